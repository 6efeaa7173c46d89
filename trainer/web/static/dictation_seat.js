// A learner's seat in a live dictation: the usual sheet, and nothing plays. The page asks once a
// second what the band does, and sends what is typed within a second.

import { ask, connection, Refused, Unreachable } from "./server.js";
import { draftKey, recall, remember } from "./storage.js";
import { setUpWriting } from "./writing.js";

const EVERY_MS = 1000;
const PAUSE_MS = 400;
const LONGEST_MS = 800;
const HERE_MS = 10000;
/** @type {Record<string, string>} */
const PHASES = {
  waiting: "Your teacher hasn't started the band yet.",
  playing: "Listen: the band is playing.",
  stopped: "Stopped.",
  over: "It's over. You'll see your result when your teacher shows it.",
};

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));
const { dictation, learner, phase, revision, writes } = byId("main").dataset;
const place = `/assigned/dictations/${dictation}`;
const kept = draftKey(learner, `dictation ${dictation}`);
const area = /** @type {HTMLTextAreaElement} */ (byId("text"));

/** @param {string} text @param {boolean} [wrong] */
function say(text, wrong = false) {
  byId("status").textContent = text;
  byId("status").classList.toggle("wrong", wrong);
}

let known = { phase, revision: Number(revision), can_write: writes === "yes" };
// What was typed before this script came is not sent either.
const early = area.value === area.defaultValue ? null : area.value;
const unsent = known.can_write ? recall(kept) ?? early : null;
const { field, preview, editor } = setUpWriting(`dictations/${dictation}`, unsent ?? area.value, say);
let isUnsent = unsent !== null;
/** When something was sent last, and when the oldest text that was not sent was typed. */
let sentAt = 0;
/** @type {number | undefined} */
let since;
let timer = 0;
/** Texts are sent one after another. @type {Promise<void>} */
let last = Promise.resolve();

function show() {
  byId("phase").textContent = known.phase !== "over" && !known.can_write ? "You've handed in. Wait for your teacher to end it." : PHASES[known.phase];
  area.readOnly = !known.can_write;
  byId("hand-in").disabled = !known.can_write;
  byId("afterwards").hidden = known.can_write;
}

function changed() {
  if (!known.can_write) return;
  isUnsent = true;
  remember(kept, field.text);
  clearTimeout(timer);
  since ??= Date.now();
  timer = setTimeout(send, Date.now() - since > LONGEST_MS ? 0 : PAUSE_MS);
}

/** Send what is typed; without anything new, say that the page is here. */
function send() {
  clearTimeout(timer);
  last = last.then(put);
  return last;
}

async function put() {
  if (!known.can_write) return;
  const { text } = field;
  const body = new URLSearchParams(isUnsent ? { text } : {});
  since = undefined;
  try {
    await ask(`${place}/text`, { method: "PUT", body });
    sentAt = Date.now();
    if (field.text === text) {
      isUnsent = false;
      remember(kept, null);
    }
  } catch (error) {
    if (error instanceof Refused) say(error.message, true);
    else if (!(error instanceof Unreachable)) throw error;
  }
}

async function look() {
  try {
    const answer = await ask(`${place}/phase?revision=${known.revision}`);
    if (answer.status !== 204) {
      known = await answer.json();
      show();
    } else if (isUnsent || Date.now() - sentAt > HERE_MS) await send();
  } catch (error) {
    if (error instanceof Refused) say(error.message, true);
    else if (!(error instanceof Unreachable)) throw error;
  }
  if (known.phase !== "over") setTimeout(look, EVERY_MS);
}

field.addEventListener("change", changed);
connection.addEventListener("restored", () => isUnsent && send());
byId("form").addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
  event.preventDefault();
  if (editor.isOpen) editor.close("away");
  await last;
  try {
    const body = new URLSearchParams({ text: field.text });
    known = await (await ask(`${place}/hand-in`, { method: "POST", body })).json();
    isUnsent = false;
    remember(kept, null);
    show();
  } catch (error) {
    if (!(error instanceof Refused || error instanceof Unreachable)) throw error;
    say(error.message, true);
  }
});
show();
preview.draw();
send();
look();
