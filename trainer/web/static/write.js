// The page to write on: one text field is the source of everything.

import { Draft } from "./draft.js";
import { listenToKeys } from "./keys.js";
import { setUpKeypad } from "./keypad.js";
import { recall, remember } from "./memory.js";
import { ask, Gone, isLost, line } from "./net.js";
import { Preview } from "./preview.js";
import { setUpTransport } from "./transport.js";

/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));
const main = at("main");
const field = /** @type {HTMLTextAreaElement} */ (at("text"));
const { exercise } = main.dataset;
const GONE = "The server does not answer. Go on writing: it is kept in this browser and sent when the server is back.";
let isOfText = false;

/** @param {string} text @param {boolean} [wrong]
 * @param {boolean} [ofText] it holds until the text is changed */
function say(text, wrong = false, ofText = false) {
  at("said").textContent = text;
  at("said").classList.toggle("wrong", wrong);
  isOfText = ofText;
}

const draft = new Draft(main.dataset, field.value, at("stamps").value);
field.value = draft.text;
field.setSelectionRange(field.value.length, field.value.length);
const preview = new Preview(exercise, at("sheet"), at("slips"), field);
const { player, listens } = setUpTransport(main, draft, (text, wrong) => (isLost() ? say(GONE, true) : say(text, wrong)));
setUpKeypad(at("keypad"), at("pad-toggle"), field);

let isSure = false;
field.addEventListener("input", () => {
  isSure = false;
  if (isOfText) say("");
  preview.pressedAt = performance.now();
  draft.update(field.value);
  preview.draw();
});
draft.addEventListener("told", (event) => say(/** @type {CustomEvent} */ (event).detail, true));
line.addEventListener("gone", () => say(GONE, true));
draft.addEventListener("kept", () => say("The server is back; all is kept."));

// After a button of the band pressed with the mouse, what is typed goes into the chart. A finger
// would only raise the keyboard.
let pointer = "";
const band = /** @type {HTMLElement} */ (document.querySelector(".transport"));
band.addEventListener("pointerdown", (event) => (pointer = event.pointerType));
band.addEventListener("click", (event) => {
  const button = /** @type {HTMLElement} */ (event.target).closest("button");
  if (button && event.detail && pointer === "mouse") field.focus({ preventScroll: true });
});

const keys = /** @type {HTMLInputElement} */ (at("keys"));
keys.checked = recall("keys") !== "off";
keys.addEventListener("change", () => remember("keys", keys.checked ? "on" : "off"));
listenToKeys(() => keys.checked || document.activeElement !== field);

at("form").addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
  event.preventDefault();
  if (preview.text !== field.value) await preview.draw();
  if (preview.slips && !isSure) {
    isSure = true;
    const many = preview.slips === 1 ? "One place is" : "Some places are";
    return say(`${many} not clear yet: see below. Hand in again to have it graded as it is.`, true, true);
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
    listens.end();
    player.pause();
    draft.end();
    location.assign((await answer.json()).location);
  } catch (error) {
    const gone = error instanceof Gone;
    say(gone ? "The server does not answer. Your chart is kept in this browser; hand it in when the server is back." : /** @type {Error} */ (error).message, true, !gone);
    at("hand-in").disabled = false;
  }
}

// A page taken out of the browser's memory may have been handed in already.
addEventListener("pageshow", (event) => event.persisted && location.reload());
preview.draw();
if (matchMedia("(hover: hover)").matches) field.focus({ preventScroll: true });
