// The page to write on: one text field is the source of everything.

import { Draft } from "./draft.js";
import { listenToKeys } from "./keys.js";
import { setUpKeypad } from "./keypad.js";
import { recall, remember } from "./memory.js";
import { ask, Gone, line } from "./net.js";
import { Preview } from "./preview.js";
import { setUpTransport } from "./transport.js";

/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));
const main = at("main");
const field = /** @type {HTMLTextAreaElement} */ (at("text"));
const { exercise, token } = main.dataset;

/** @param {string} text @param {boolean} [wrong] */
function say(text, wrong = false) {
  at("said").textContent = text;
  at("said").classList.toggle("wrong", wrong);
}

const draft = new Draft(exercise, token, field.value);
field.value = draft.text;
const preview = new Preview(exercise, at("sheet"), at("slips"), field);
const player = setUpTransport(main, draft, say);
setUpKeypad(at("keypad"), at("pad-toggle"), field);

let isSure = false;
field.addEventListener("input", () => {
  isSure = false;
  preview.pressedAt = performance.now();
  draft.update(field.value);
  preview.draw();
});
draft.addEventListener("told", (event) => say(/** @type {CustomEvent} */ (event).detail, true));
line.addEventListener("gone", () =>
  say("The server does not answer. Go on writing: it is kept in this browser and sent when the server is back.", true));
line.addEventListener("back", () => say("The server is back; all is kept."));

const keys = /** @type {HTMLInputElement} */ (at("keys"));
keys.checked = recall("keys") !== "off";
keys.addEventListener("change", () => remember("keys", keys.checked ? "on" : "off"));
listenToKeys(() => keys.checked || document.activeElement !== field);

at("form").addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
  event.preventDefault();
  if (preview.slips && !isSure) {
    isSure = true;
    const many = preview.slips === 1 ? "One place is" : "Some places are";
    return say(`${many} not clear yet: see below. Hand in again to have it graded as it is.`, true);
  }
  await handIn();
});

async function handIn() {
  at("stamps").value = JSON.stringify(draft.stamps.runs());
  at("paused").value = String(draft.paused);
  at("hand-in").disabled = true;
  try {
    const body = new URLSearchParams(/** @type {any} */ (new FormData(at("form"))));
    const answer = await ask(`/write/${exercise}`, { method: "POST", body });
    player.pause();
    draft.end();
    location.assign((await answer.json()).location);
  } catch (error) {
    const gone = error instanceof Gone;
    say(gone ? "The server does not answer. Your chart is kept in this browser; hand it in when the server is back." : /** @type {Error} */ (error).message, true);
    at("hand-in").disabled = false;
  }
}

// A page taken out of the browser's memory may have been handed in already.
addEventListener("pageshow", (event) => event.persisted && location.reload());
preview.draw();
if (matchMedia("(hover: hover)").matches) field.focus({ preventScroll: true });
