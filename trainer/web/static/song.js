// A song of one's own: written on the same sheet as in drills, heard, and saved as a version.

import { ask, Unreachable } from "./server.js";
import { SongDraft } from "./song_draft.js";
import { setUpBand } from "./song_player.js";
import { setUpWriting } from "./writing.js";

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));
const main = byId("main");
const area = /** @type {HTMLTextAreaElement} */ (byId("text"));
const { song } = main.dataset;
const PAUSE_MS = 500;

/** @param {string} text @param {boolean} [wrong] */
function say(text, wrong = false) {
  byId("status").textContent = text;
  byId("status").classList.toggle("wrong", wrong);
}

const typed = area.value;
const draft = new SongDraft(main.dataset, area.defaultValue);
// What was typed before this script was there is kept like anything else.
if (!draft.isUnsent && typed !== area.defaultValue) draft.update(typed);
const { field, preview, editor } = setUpWriting(`songbook/${song}`, draft.text, say);
const { play, prepare } = setUpBand(song, say, () => field.text);

let pause = 0;
field.addEventListener("change", () => {
  draft.update(field.text);
  clearTimeout(pause);
  pause = setTimeout(getReady, PAUSE_MS);
});

/** Have the band get ready, once the text has stayed as it is for a moment and there are bars. */
async function getReady() {
  if ((await preview.settle()) && preview.bars.length) prepare();
}
draft.addEventListener("message", (event) => say(/** @type {CustomEvent} */ (event).detail, true));
draft.addEventListener("beside", (event) => {
  const { said, versions } = /** @type {CustomEvent} */ (event).detail;
  byId("versions").innerHTML = versions;
  say(said);
});

byId("play-here").addEventListener("click", async () => {
  await preview.settle();
  const at = preview.bars.findLastIndex((bar) => bar.start <= field.caret);
  play(Math.max(1, at + 1));
});

byId("form").addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
  event.preventDefault();
  if (editor.isOpen) editor.close("away");
  byId("hand-in").disabled = true;
  try {
    await draft.send();
    const { text } = field;
    const body = new URLSearchParams({ text, began_from: String(draft.beganFrom) });
    const saved = await (await ask(`/songbook/${song}`, { method: "POST", body })).json();
    draft.saved(text, saved.number);
    byId("began-from").value = String(saved.number);
    byId("versions").innerHTML = saved.versions;
    byId("title").textContent = saved.title;
    byId("tempo").placeholder = saved.tempo;
    if (byId("paper")) byId("paper").src = `/songbook/${song}/file?format=.svg&version=${saved.number}`;
    say(saved.said);
  } catch (error) {
    const isDown = error instanceof Unreachable;
    say(isDown ? "The server isn't answering. Your chart is kept in this browser. Save it when the server is back." : /** @type {Error} */ (error).message, true);
  } finally {
    byId("hand-in").disabled = false;
  }
});

// What is printed or downloaded is the text as it is, so the server must have it first.
for (const form of [byId("print"), byId("files")]) {
  form.addEventListener("submit", async (/** @type {SubmitEvent} */ event) => {
    event.preventDefault();
    if (editor.isOpen) editor.close("away");
    await draft.send();
    form.submit();
  });
}
// The browser's own key for printing prints the sheet, too.
addEventListener("keydown", (event) => {
  if ((!event.ctrlKey && !event.metaKey) || event.key.toLowerCase() !== "p") return;
  event.preventDefault();
  byId("print").requestSubmit();
});

// A new song begins with its title.
if (draft.beganFrom === 0 && !matchMedia("(pointer: coarse)").matches) {
  const end = area.value.indexOf("\n");
  area.focus();
  area.setSelectionRange(end, end);
}

preview.draw().then(getReady);
