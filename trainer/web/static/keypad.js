// A keypad that types the same notation as a keyboard, for hands without one.

import { recall, remember } from "./storage.js";

/**
 * @param {HTMLElement} pad @param {HTMLButtonElement} toggle @param {HTMLTextAreaElement} field
 */
export function setUpKeypad(pad, toggle, field) {
  const show = (/** @type {boolean} */ shown) => {
    pad.hidden = !shown;
    toggle.setAttribute("aria-expanded", String(shown));
    toggle.textContent = shown ? "Hide keypad" : "Keypad";
    // With the keypad up, the device's own keyboard stays down.
    field.inputMode = shown ? "none" : "text";
    remember("keypad", shown ? "shown" : "hidden");
  };
  const kept = recall("keypad");
  show(kept ? kept === "shown" : matchMedia("(hover: none) and (pointer: coarse)").matches);
  toggle.addEventListener("click", () => show(pad.hidden));
  // A press must not take the caret out of the text.
  pad.addEventListener("pointerdown", (event) => {
    if (document.activeElement === field) event.preventDefault();
  });
  pad.addEventListener("click", (event) => {
    const { put, part, do: what } = /** @type {HTMLElement} */ (event.target).closest("button")?.dataset ?? {};
    if (put) insert(field, put === "\n" ? put : spaced(field, put));
    else if (part) insert(field, newSection(field, part));
    else if (what === "delete") remove(field);
    else if (what) move(field, what === "left" ? -1 : 1);
  });
}

/** A digit after a finished bar starts the next one: set it apart.
 * @param {HTMLTextAreaElement} field @param {string} put */
function spaced(field, put) {
  const before = field.value.slice(0, field.selectionStart);
  const starts = /^[0-7b#(.]/.test(put) && /[0-9oh+\-'dps.a-z]$/i.test(before);
  return starts && !/(^|[\s_/(.])[b#]$/.test(before) ? ` ${put}` : put;
}

/** @param {HTMLTextAreaElement} field @param {string} name */
function newSection(field, name) {
  const before = field.value.slice(0, field.selectionStart).trimEnd();
  const many = (before.match(new RegExp(`^${name}\\b.*:`, "gm")) ?? []).length;
  return `${before ? "\n\n" : ""}${name}${name === "Verse" || many ? ` ${many + 1}` : ""}:\n`;
}

/** @param {HTMLTextAreaElement} field @param {string} text */
function insert(field, text) {
  field.setRangeText(text, field.selectionStart, field.selectionEnd, "end");
  changed(field);
}

/** @param {HTMLTextAreaElement} field */
function remove(field) {
  const { selectionStart: start, selectionEnd: end } = field;
  field.setRangeText("", start === end ? Math.max(0, start - 1) : start, end, "end");
  changed(field);
}

/** @param {HTMLTextAreaElement} field @param {number} by */
function move(field, by) {
  const place = Math.max(0, Math.min(field.value.length, field.selectionStart + by));
  field.setSelectionRange(place, place);
}

/** @param {HTMLTextAreaElement} field */
function changed(field) {
  field.dispatchEvent(new InputEvent("input", { bubbles: true }));
}
