// Quick questions: hear, choose, see which it was and hear the others, go on.

import { setUpHearing } from "./hear_buttons.js";
import { ask } from "./server.js";

/** @param {string} id */
const byId = (id) => /** @type {HTMLElement} */ (document.getElementById(id));
const place = byId("question");
const say = (/** @type {string} */ text) => (byId("status").textContent = text);
const { stop, hear } = setUpHearing(say);

/** @param {string} selector @returns {HTMLElement | null} */
const inside = (selector) => place.querySelector(selector);

/** Send the answer that a button stands for and show whether it was right.
 * @param {HTMLFormElement} form @param {HTMLButtonElement} button */
async function answer(form, button) {
  const body = new URLSearchParams(/** @type {any} */ (new FormData(form, button)));
  for (const one of form.querySelectorAll("button")) one.disabled = true;
  try {
    const told = await (await ask(form.action, { method: "POST", body })).json();
    stop();
    place.innerHTML = told.html;
    say("");
    inside("#told")?.focus();
  } catch (error) {
    for (const one of form.querySelectorAll("button")) one.disabled = false;
    say(/** @type {Error} */ (error).message);
  }
}

/** Show the next question and play it, or how it went. @param {string} address */
async function goOn(address) {
  try {
    const page = await (await ask(address, { headers: { Accept: "text/html" } })).text();
    stop();
    const next = new DOMParser().parseFromString(page, "text/html").getElementById("question");
    place.replaceChildren(...(next?.childNodes ?? []));
    say("");
    const play = /** @type {HTMLButtonElement | null} */ (inside(".play"));
    (play ?? inside("#done"))?.focus();
    if (play) await hear(play);
  } catch (error) {
    say(/** @type {Error} */ (error).message);
  }
}

place.addEventListener("submit", (event) => {
  const form = /** @type {HTMLFormElement} */ (event.target);
  if (!form.matches(".ask")) return;
  event.preventDefault();
  const button = /** @type {HTMLButtonElement | null} */ (/** @type {SubmitEvent} */ (event).submitter);
  if (button) answer(form, button);
});
place.addEventListener("click", (event) => {
  const link = /** @type {HTMLElement} */ (event.target).closest("a.next");
  if (!(link instanceof HTMLAnchorElement) || event.ctrlKey || event.metaKey) return;
  event.preventDefault();
  goOn(link.href);
});
// Where the focus is within the question, a letter is an answer, and Enter goes on from what is told.
place.addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey || event.repeat) return;
  const answers = place.querySelectorAll(".answer");
  const chosen = answers[["a", "b", "c"].indexOf(event.key.toLowerCase())];
  const next = event.key === "Enter" && document.activeElement?.id === "told" ? inside("a.next") : null;
  const button = /** @type {HTMLElement | null} */ (chosen ?? next);
  if (!button) return;
  event.preventDefault();
  button.click();
});
inside(".play")?.focus({ preventScroll: true });
