// What is said of the bars on the sheet, and the questions that are answered there.

import { chooseChordNames } from "./chord_names.js";
import { offsetOf } from "./places.js";
import { showKeys } from "./shortcuts.js";

/** A question on the sheet and the stretch of the text that it asks about.
 * @typedef {{ element: HTMLElement, start: number, end: number }} Asked */

export class Notes {
  /** @param {import("./preview.js").Preview} preview @param {import("./chart_field.js").ChartField} field
   * @param {HTMLElement} spoken where what is new is said to those who do not see it */
  constructor(preview, field, spoken) {
    this.preview = preview;
    this.field = field;
    this.spoken = spoken;
    /** @type {Asked[]} */
    this.questions = [];
    /** What is in sight. @type {string[]} */
    this.told = [];
    preview.addEventListener("drawn", () => this.onDrawn());
    preview.addEventListener("told", () => this.say());
    field.addEventListener("caret", () => this.markNearest());
    addEventListener("resize", () => placeNotes(preview.sheet));
    preview.drawing.addEventListener("click", (event) => {
      const button = /** @type {HTMLElement} */ (event.target).closest("button");
      if (button?.dataset.edits !== undefined) this.answer(button, event);
      else if (button?.dataset.letters !== undefined) this.writeLetters(button, event);
    });
  }

  onDrawn() {
    const { text } = this.preview;
    const elements = /** @type {NodeListOf<HTMLElement>} */ (this.preview.drawing.querySelectorAll(".question"));
    this.questions = [...elements].map((element) => {
      const [line, column, end] = [element.dataset.line, element.dataset.column, element.dataset.end].map(Number);
      return { element, start: offsetOf(text, line, column), end: offsetOf(text, line, end) };
    });
    placeNotes(this.preview.sheet);
    this.markNearest();
  }

  /** The question that the keys answer: the nearest before the caret, or the first after it.
   * @returns {Asked | undefined} */
  nearest() {
    const { caret } = this.field;
    return this.questions.findLast((one) => one.start <= caret) ?? this.questions[0];
  }

  markNearest() {
    const nearest = this.nearest();
    for (const { element } of this.questions) {
      element.classList.toggle("nearest", element === nearest?.element);
      for (const [number, button] of element.querySelectorAll("button").entries()) {
        if (element === nearest?.element) button.setAttribute("aria-keyshortcuts", `Alt+${number + 1}`);
        else button.removeAttribute("aria-keyshortcuts");
        for (const kbd of button.querySelectorAll("kbd")) kbd.textContent = showKeys(`Alt+${number + 1}`);
      }
    }
  }

  /** Put an answer in place of what was asked about, in every place that it is for, as one step.
   * The caret stays where it was in the text. An answer given before the sheet is drawn waits for it.
   * @param {HTMLButtonElement} pressed @param {MouseEvent} event */
  async answer(pressed, event) {
    const button = this.preview.text === this.field.text ? pressed : await this.findAgain(pressed, event);
    if (!button) return;
    const { text, caret } = this.field;
    /** @type {[number, number, number, string][]} */
    const told = JSON.parse(button.dataset.edits ?? "[]");
    const edits = told.map(([line, column, end, put]) => ({ start: offsetOf(text, line, column), end: offsetOf(text, line, end), put }));
    edits.sort((one, other) => one.start - other.start);
    const [start, end] = [edits[0].start, edits[edits.length - 1].end];
    let [put, at, after] = ["", start, caret];
    for (const edit of edits) {
      put += text.slice(at, edit.start) + edit.put;
      at = edit.end;
      if (caret >= edit.end) after += edit.put.length - (edit.end - edit.start);
      else if (caret > edit.start) after += Math.min(0, edit.start + edit.put.length - caret);
    }
    this.takeFocus(button, event);
    this.field.replace({ start, end }, put, { caret: after });
  }

  /** The button in the sheet as the text now is that stands for one pressed in an older sheet; null
   * if its question is gone. Keys press the nearest question's button, a pointer the same question's.
   * @param {HTMLButtonElement} pressed @param {MouseEvent} event
   * @returns {Promise<HTMLButtonElement | null>} */
  async findAgain(pressed, event) {
    const place = this.questions.findIndex((one) => one.element.contains(pressed));
    const older = this.questions[place]?.element;
    const number = [...(older?.querySelectorAll("button") ?? [])].indexOf(pressed);
    if (!(await this.preview.settle())) return null;
    const byKeys = event.detail === 0;
    const question = byKeys ? this.nearest() : this.questions[place];
    if (!question || (!byKeys && question.element.textContent !== older?.textContent)) return null;
    return question.element.querySelectorAll("button")[number] ?? null;
  }

  /** Have the chords read as letters from now on. @param {HTMLButtonElement} button @param {MouseEvent} event */
  writeLetters(button, event) {
    this.takeFocus(button, event);
    chooseChordNames("letters");
  }

  /** A button that goes away hands the focus to the field; a finger would only raise the keyboard.
   * @param {HTMLButtonElement} button @param {MouseEvent} event */
  takeFocus(button, event) {
    const byTouch = event instanceof PointerEvent && event.pointerType === "touch";
    if (button === document.activeElement && !byTouch) this.field.area.focus({ preventScroll: true });
  }

  /** Say what has come into sight. */
  say() {
    const notes = /** @type {HTMLElement[]} */ ([...this.preview.drawing.querySelectorAll(".note")]);
    const told = notes.filter((note) => note.checkVisibility()).map(sayNote);
    const fresh = told.filter((text) => !this.told.includes(text));
    this.told = told;
    if (fresh.length) this.spoken.textContent = fresh.join(" ");
  }
}

/** @param {HTMLElement} note */
function sayNote(note) {
  const bar = /^note-(\d+)$/.exec(note.id)?.[1];
  const text = (note.textContent ?? "").replace(/\s+/g, " ").trim();
  return bar ? `Bar ${bar}: ${text}` : text;
}

/** Keep what hangs below the bars within the sheet. @param {HTMLElement} sheet */
function placeNotes(sheet) {
  const notes = /** @type {HTMLElement[]} */ ([...sheet.querySelectorAll(".bar > .note")]);
  if (!notes.length) return;
  const right = sheet.getBoundingClientRect().right - parseFloat(getComputedStyle(sheet).paddingRight);
  for (const note of notes) note.style.left = "";
  const ends = notes.map((note) => note.getBoundingClientRect().right);
  for (const [number, note] of notes.entries()) note.style.left = `${Math.min(0, right - ends[number])}px`;
}
