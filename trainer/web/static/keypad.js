// A keypad that types the same notation as a keyboard, for hands without one.

import { spaced } from "./places.js";
import { recall, remember } from "./storage.js";

/**
 * @param {HTMLElement} pad @param {HTMLButtonElement} toggle
 * @param {import("./chart_field.js").ChartField} field
 * @param {import("./bar_editor.js").BarEditor} editor
 * @param {(what: string) => void} act does what a key that types nothing stands for
 */
export function setUpKeypad(pad, toggle, field, editor, act) {
  const show = (/** @type {boolean} */ shown) => {
    pad.hidden = !shown;
    toggle.setAttribute("aria-expanded", String(shown));
    toggle.textContent = shown ? "Hide keypad" : "Keypad";
    // With the keypad up, the device's own keyboard stays down.
    for (const each of [field.area, editor.input]) each.inputMode = shown ? "none" : "text";
    remember("keypad", shown ? "shown" : "hidden");
  };
  const kept = recall("keypad");
  show(kept ? kept === "shown" : matchMedia("(hover: none) and (pointer: coarse)").matches);
  toggle.addEventListener("click", () => show(pad.hidden));
  // A press must not take the caret out of the text.
  pad.addEventListener("pointerdown", (event) => {
    if (document.activeElement === field.area || editor.isOpen) event.preventDefault();
  });
  pad.addEventListener("click", (event) => {
    const { put, part, do: what } = /** @type {HTMLElement} */ (event.target).closest("button")?.dataset ?? {};
    if (editor.isOpen && onBar(editor, put, what)) return;
    if (put) field.insert(put === "\n" ? put : spaced(field.text, field.caret, put));
    else if (part) field.insert(newSection(field.text.slice(0, field.caret), part));
    else if (what === "delete") remove(field);
    else if (what === "left" || what === "right") move(field.area, what === "left" ? -1 : 1);
    else if (what === "undo" || what === "redo") field.step(what === "undo" ? -1 : 1);
    else if (what) act(what);
  });
}

/** Type into the field on a bar of the sheet; whether the key belongs there.
 * @param {import("./bar_editor.js").BarEditor} editor @param {string} [put] @param {string} [what] */
function onBar(editor, put, what) {
  const { input } = editor;
  const start = input.selectionStart ?? 0;
  const end = input.selectionEnd ?? 0;
  if (put && put !== "\n") input.setRangeText(spaced(input.value, start, put), start, end, "end");
  else if (what === "gap") input.setRangeText("?", 0, input.value.length, "end");
  else if (what === "delete") input.setRangeText("", start === end ? Math.max(0, start - 1) : start, end, "end");
  else {
    if (what === "left" || what === "right") move(input, what === "left" ? -1 : 1);
    else editor.close("here");
    return put === "\n" || what === "left" || what === "right";
  }
  editor.put();
  return true;
}

/** @param {string} before what stands before it @param {string} name */
function newSection(before, name) {
  const text = before.trimEnd();
  const many = (text.match(new RegExp(`^${name}\\b.*:`, "gm")) ?? []).length;
  return `${text ? "\n\n" : ""}${name}${name === "Verse" || many ? ` ${many + 1}` : ""}:\n`;
}

/** @param {import("./chart_field.js").ChartField} field */
function remove(field) {
  const { selectionStart: start, selectionEnd: end } = field.area;
  field.replace({ start: start === end ? Math.max(0, start - 1) : start, end }, "");
}

/** @param {HTMLTextAreaElement | HTMLInputElement} element @param {number} by */
function move(element, by) {
  const place = Math.max(0, Math.min(element.value.length, (element.selectionStart ?? 0) + by));
  element.setSelectionRange(place, place);
}
