// Writing a chart: the text, the sheet, the keypad and the keys as one.

import { BarActions } from "./bar_actions.js";
import { BarEditor } from "./bar_editor.js";
import { setUpChordNames } from "./chord_names.js";
import { ChartField } from "./chart_field.js";
import { followCaret } from "./follow_caret.js";
import { setUpBandWords } from "./band_words.js";
import { setUpKeypad } from "./keypad.js";
import { Notes } from "./notes.js";
import { Preview } from "./preview.js";
import { avoidScreenKeyboard } from "./screen_keyboard.js";
import { SheetWalk } from "./sheet_walk.js";
import { listenToKeys, listenToSigns, SHORTCUTS, showKeys, WHERE } from "./shortcuts.js";
import { recall, remember } from "./storage.js";
import { undoStep } from "./history.js";
import { writeFast } from "./fast_writing.js";

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));
/** What the signs do that mean nothing in a chart. @type {Record<string, string>} */
const SIGNS = { "=": "line", "&": "section", "?": "gap", "!": "next-gap" };

/**
 * @param {string} exercise @param {string} text what is written already
 * @param {(text: string) => void} say
 */
export function setUpWriting(exercise, text, say) {
  const area = /** @type {HTMLTextAreaElement} */ (byId("text"));
  area.value = text;
  area.setSelectionRange(text.length, text.length);
  const field = new ChartField(area, byId("mirror"));
  const preview = new Preview(exercise, byId("sheet"), byId("drawing"), field);
  new Notes(preview, field, byId("spoken"));
  const editor = new BarEditor(byId("bar-field"), field, preview);
  const walk = new SheetWalk(preview, field, editor);
  new BarActions(walk, byId("bar-tools"), [byId("sheet"), byId("bar-tools"), byId("keypad")]);

  setUpChordNames(byId("chord-names"), byId("keypad"), field);

  const act = (/** @type {string} */ what) => say(writeFast(field, what));
  setUpKeypad(byId("keypad"), byId("keypad-toggle"), field, editor, act);
  setUpBandWords(document.getElementById("band-words"), field);
  const keysWork = setUpKeyToggle(byId("key-toggle"));
  listenToKeys(() => keysWork() || ![area, editor.input].includes(/** @type {any} */ (document.activeElement)));
  listenToSigns(area, keysWork, (keys) => {
    if (isWord(field)) return false;
    act(SIGNS[keys]);
    return true;
  });
  for (const button of byId("keypad").querySelectorAll("[data-do=undo], [data-do=redo]")) {
    const show = () => (button.disabled = !(button.dataset.do === "undo" ? field.history.canUndo : field.history.canRedo));
    field.addEventListener("change", show);
    show();
  }
  area.form?.addEventListener("keydown", (event) => {
    const step = event.defaultPrevented ? 0 : undoStep(event);
    if (step && field.step(step)) event.preventDefault();
  });
  field.addEventListener("change", () => preview.draw());
  followCaret(field, [byId("above"), byId("above").parentElement], area.form?.querySelector(".hand-in") ?? area);
  keepSheetInSight(byId("sheet").parentElement, byId("keypad"), area);
  avoidScreenKeyboard();
  tellKeys(byId("keys"));
  return { field, preview, editor };
}

/** Whether keys work while one writes, as the learner has it. @param {HTMLInputElement} toggle */
function setUpKeyToggle(toggle) {
  toggle.checked = recall("keys") !== "off";
  toggle.addEventListener("change", () => remember("keys", toggle.checked ? "on" : "off"));
  return () => toggle.checked;
}

/** Whether a word is being written, as in a name of a section, in a note for the players or in a
 * comment: there every sign is typed as it is.
 * @param {ChartField} field */
function isWord({ text, caret }) {
  const line = text.slice(text.lastIndexOf("\n", caret - 1) + 1, caret);
  if (/\[[^\]]*$|(^|\s)@/.test(line)) return true;
  return /^\s*\p{L}{5,}/u.test(line) && !line.includes(":") && !/\d/.test(line);
}

/** On a small screen the keypad leaves room for the sheet and the band: go there to write.
 * @param {HTMLElement} frame @param {HTMLElement} pad @param {HTMLTextAreaElement} area */
function keepSheetInSight(frame, pad, area) {
  const go = () => {
    if (!pad.hidden && matchMedia("(max-width: 40rem)").matches) frame.scrollIntoView({ block: "start" });
  };
  area.addEventListener("focus", go);
  pad.addEventListener("click", go);
}

/** Say which keys work in the text. @param {HTMLElement} element */
function tellKeys(element) {
  for (const { keys, does, where } of SHORTCUTS) {
    if (where !== WHERE.text) continue;
    const item = document.createElement("li");
    item.append(Object.assign(document.createElement("kbd"), { textContent: showKeys(keys) }), ` ${does}`);
    element.append(item);
  }
}
