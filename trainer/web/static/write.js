// The page to write on: one text field is the source of everything.

import { Draft } from "./draft.js";
import { ask, connection, isUnreachable, Unreachable } from "./server.js";
import { setUpLight } from "./light.js";
import { setUpTransport } from "./transport.js";
import { setUpWriting } from "./writing.js";

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));
const main = byId("main");
const area = /** @type {HTMLTextAreaElement} */ (byId("text"));
const { exercise } = main.dataset;
const NO_ANSWER = "The server isn't answering. Keep writing: your chart is saved in this browser and sent when the server is back.";
let isOfText = false;

/** @param {string} text @param {boolean} [wrong]
 * @param {boolean} [ofText] it holds until the text is changed */
function say(text, wrong = false, ofText = false) {
  byId("status").textContent = text;
  byId("status").classList.toggle("wrong", wrong);
  isOfText = ofText;
}

const draft = new Draft(main.dataset, area.value, byId("stamps").value);
const { field, preview, editor } = setUpWriting(exercise, draft.text, say);
const { player, listens } = setUpTransport(main, draft, (text, wrong) => (isUnreachable() ? say(NO_ANSWER, true) : say(text, wrong)));
if (byId("light")) setUpLight(exercise, byId("light-toggle"), byId("light"), player, listens, say);

let isSure = false;
field.addEventListener("change", () => {
  isSure = false;
  if (isOfText) say("");
  draft.update(field.text);
});
draft.addEventListener("message", (event) => say(/** @type {CustomEvent} */ (event).detail, true));
connection.addEventListener("lost", () => say(NO_ANSWER, true));
draft.addEventListener("saved", () => say("The server is back, and everything is saved."));

// After a button of the band pressed with the mouse, what is typed goes into the chart. A finger
// would only raise the keyboard.
let pointer = "";
const band = /** @type {HTMLElement} */ (document.querySelector(".transport"));
band.addEventListener("pointerdown", (event) => (pointer = event.pointerType));
band.addEventListener("click", (event) => {
  const button = /** @type {HTMLElement} */ (event.target).closest("button");
  if (button && event.detail && pointer === "mouse") area.focus({ preventScroll: true });
});

byId("form").addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
  event.preventDefault();
  if (editor.isOpen) editor.close("away");
  if (preview.text !== field.text) await preview.draw();
  const unsure = isSure ? "" : whatIsOpen(preview.openCount, preview.gapCount);
  if (unsure) {
    isSure = true;
    return say(`${unsure}: see the sheet. Hand it in again to have it scored as it is.`, true, true);
  }
  await handIn();
});

/** What is asked about before it is handed in, "" for nothing. @param {number} unclear @param {number} gaps */
function whatIsOpen(unclear, gaps) {
  if (unclear) return unclear === 1 ? "One place isn't clear yet" : "Some places aren't clear yet";
  if (gaps) return gaps === 1 ? "One bar is left open" : `${gaps} bars are left open`;
  return "";
}

async function handIn() {
  byId("stamps").value = JSON.stringify(draft.stamps.runs());
  byId("paused").value = String(draft.paused);
  byId("hand-in").disabled = true;
  try {
    const body = new URLSearchParams(/** @type {any} */ (new FormData(byId("form"))));
    const answer = await ask(`/write/${exercise}`, { method: "POST", body });
    listens.end();
    player.pause();
    draft.end();
    location.assign((await answer.json()).location);
  } catch (error) {
    const isDown = error instanceof Unreachable;
    say(isDown ? "The server isn't answering. Your chart is saved in this browser. Hand it in when the server is back." : /** @type {Error} */ (error).message, true, !isDown);
    byId("hand-in").disabled = false;
  }
}

// A page taken out of the browser's memory may have been handed in already.
addEventListener("pageshow", (event) => event.persisted && location.reload());
preview.draw();
if (matchMedia("(hover: hover)").matches) area.focus({ preventScroll: true });
