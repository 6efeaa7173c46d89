// The first four bars: hear one more, type its number, be told at once.

import { setUpHearing } from "./hear_buttons.js";
import { ask } from "./server.js";

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));
const place = /** @type {HTMLElement} */ (byId("first-bars"));
const say = (/** @type {string} */ text) => (byId("status").textContent = text);
const { stop } = setUpHearing(say);

place.addEventListener("submit", async (event) => {
  const form = /** @type {HTMLFormElement} */ (event.target);
  if (!form.matches(".first-form")) return;
  event.preventDefault();
  try {
    const body = new URLSearchParams(/** @type {any} */ (new FormData(form)));
    const answer = await (await ask(form.action, { method: "POST", body })).json();
    stop();
    place.innerHTML = answer.html;
    say("");
    byId("announced").textContent = byId("said")?.textContent.trim() ?? "";
    (byId("bar") ?? byId("said"))?.focus();
    byId("bar")?.select();
  } catch (error) {
    say(/** @type {Error} */ (error).message);
  }
});
