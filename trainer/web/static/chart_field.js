// The text of the chart: the one field that keypad, keys and sheet all write into.

import { History, undoStep } from "./history.js";

/** @typedef {import("./places.js").Span} Span */

/** Events: "change" after the text has become another, "caret" after the caret has moved. */
export class ChartField extends EventTarget {
  /** @param {HTMLTextAreaElement} area
   * @param {HTMLElement} mirror lies behind it with the same text: it gives the field its height, and
   *   what is marked in it is seen through the field */
  constructor(area, mirror) {
    super();
    this.area = area;
    this.mirror = mirror;
    this.text = area.value;
    this.history = new History(this.text);
    /** The selection before the change under way. @type {[number, number]} */
    this.before = [this.caret, this.caret];
    /** How the last change was made, and where it ended. */
    this.last = { kind: "", end: -1 };
    /** @type {Span | null} */
    this.marked = null;
    area.addEventListener("beforeinput", (event) => this.onBefore(event));
    area.addEventListener("input", (event) => this.onTyped(/** @type {InputEvent} */ (event)));
    area.addEventListener("scroll", () => (this.mirror.scrollTop = area.scrollTop));
    area.addEventListener("keydown", (event) => {
      const step = undoStep(event);
      if (!step) return;
      event.preventDefault();
      this.step(step);
    });
    document.addEventListener("selectionchange", () => {
      if (document.activeElement === area) this.tell("caret");
    });
    this.reflect();
  }

  /** Where the caret is, or what is selected begins. */
  get caret() {
    return this.area.selectionStart;
  }

  /** Put other text in place of a stretch of it.
   * @param {Span} span @param {string} put @param {{ kind?: string, caret?: number }} [how] changes
   *   of one kind that is not "" and follow each other are undone as one */
  replace(span, put, { kind = "", caret = span.start + put.length } = {}) {
    this.before = [this.area.selectionStart, this.area.selectionEnd];
    this.area.setRangeText(put, span.start, span.end, "end");
    this.area.setSelectionRange(caret, caret);
    this.take(kind, Boolean(kind) && kind === this.last.kind);
  }

  /** Put text in at the caret, in place of what is selected. @param {string} put */
  insert(put) {
    this.replace({ start: this.area.selectionStart, end: this.area.selectionEnd }, put);
  }

  /** Undo (-1) or redo (1) a step; whether there was one. @param {-1 | 1} by */
  step(by) {
    const state = this.history.step(by);
    if (!state) return false;
    this.area.value = state.text;
    this.area.setSelectionRange(...state.selection);
    this.last = { kind: "", end: -1 };
    this.text = state.text;
    this.changed();
    return true;
  }

  /** A text from elsewhere, which cannot be undone. @param {string} text */
  load(text) {
    this.area.value = this.text = text;
    this.history = new History(text);
    this.toEnd();
    this.reflect();
  }

  /** Put the caret after the text. */
  toEnd() {
    this.area.setSelectionRange(this.text.length, this.text.length);
  }

  /** Mark a stretch of the text, null for none. @param {Span | null} span */
  mark(span) {
    this.marked = span;
    this.reflect();
    const mark = this.mirror.querySelector("mark");
    if (!mark || document.activeElement === this.area) return;
    const { area } = this;
    const [top, bottom] = [mark.offsetTop - mark.offsetHeight / 2, mark.offsetTop + 1.5 * mark.offsetHeight];
    if (top < area.scrollTop) area.scrollTop = top;
    else if (bottom > area.scrollTop + area.clientHeight) area.scrollTop = bottom - area.clientHeight;
  }

  /** @param {InputEvent} event */
  onBefore(event) {
    this.before = [this.area.selectionStart, this.area.selectionEnd];
    const step = { historyUndo: -1, historyRedo: 1 }[event.inputType];
    if (!step) return;
    event.preventDefault();
    this.step(/** @type {-1 | 1} */ (step));
  }

  /** What is typed without a space, or deleted, in one go is undone as one. @param {InputEvent} event */
  onTyped(event) {
    const kind = event.inputType === "insertText" && event.data?.trim() ? "typing" : event.inputType === "deleteContentBackward" ? "deleting" : "";
    this.take(kind, Boolean(kind) && kind === this.last.kind && this.before[1] === this.last.end);
  }

  /** @param {string} kind @param {boolean} joined */
  take(kind, joined) {
    const { value: text, selectionStart, selectionEnd } = this.area;
    if (text === this.text) return;
    this.history.record({ text, selection: [selectionStart, selectionEnd] }, this.before, joined);
    this.last = { kind, end: selectionEnd };
    this.text = text;
    this.changed();
  }

  changed() {
    this.reflect();
    this.tell("change");
  }

  /** Bring the mirror up to date. */
  reflect() {
    const { text, marked } = this;
    const parts = marked ? [text.slice(0, marked.start), Object.assign(document.createElement("mark"), { textContent: text.slice(marked.start, marked.end) }), text.slice(marked.end)] : [text];
    // A line end at the very end has no height of its own.
    this.mirror.replaceChildren(...parts, "\u200b");
    this.mirror.scrollTop = this.area.scrollTop;
  }

  /** @param {string} what */
  tell(what) {
    this.dispatchEvent(new Event(what));
  }
}
