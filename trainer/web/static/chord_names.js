// Whether chords are written in numbers or in letters. The text says so itself, in a line that is
// there for whoever reads it, so that it means the same everywhere.

import { recall, remember } from "./storage.js";

const LINE = /^[^\S\n]*chords[^\S\n]*:[^\S\n]*letters[^\S\n]*(?:\n|$)/im;
const LETTERS = "CDEFGAB";

/** Let a list choose; what was chosen last is so for every text that is begun.
 * @param {HTMLSelectElement} list @param {HTMLElement} pad whose keys for numbers turn into letters
 * @param {import("./chart_field.js").ChartField} field */
export function setUpChordNames(list, pad, field) {
  const digits = /** @type {HTMLButtonElement[]} */ ([...pad.querySelectorAll(".digit")]).filter((key) => key.dataset.put !== "0");
  const show = () => {
    const isLetters = LINE.test(field.text);
    list.value = isLetters ? "letters" : "numbers";
    for (const [number, key] of digits.entries()) key.textContent = key.dataset.put = isLetters ? LETTERS[number] : String(number + 1);
  };
  // Where the list is hidden nobody is told the key, which letters need.
  const canChoose = !list.closest("[hidden]");
  if (canChoose && !field.text && recall("chords") === "letters") field.load("chords: letters\n");
  list.addEventListener("change", () => {
    const { caret, text } = field;
    const found = LINE.exec(text);
    remember("chords", list.value);
    if (list.value === "letters" && !found) {
      const put = "chords: letters\n";
      field.replace({ start: 0, end: 0 }, put, { caret: caret + put.length });
    } else if (list.value === "numbers" && found) {
      const end = found.index + found[0].length;
      field.replace({ start: found.index, end }, "", { caret: Math.max(found.index, caret - found[0].length) });
    }
  });
  field.addEventListener("change", show);
  show();
}

/** Choose as in the list. @param {string} names */
export function chooseChordNames(names) {
  const list = /** @type {HTMLSelectElement} */ (document.getElementById("chord-names"));
  list.value = names;
  list.dispatchEvent(new Event("change"));
}
