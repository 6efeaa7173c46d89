// A field on a bar of the sheet: what is typed there replaces the bar in the text as it is typed.

import { removeBar, replaceBar, roomAfter } from "./bar_edits.js";
import { undoStep } from "./history.js";

/** @typedef {import("./preview.js").DrawnBar} DrawnBar */

/** Event "closed" when it is done; its detail says where the bar stands and where to go from there. */
export class BarEditor extends EventTarget {
  /** @param {HTMLInputElement} input @param {import("./chart_field.js").ChartField} field
   * @param {import("./preview.js").Preview} preview */
  constructor(input, field, preview) {
    super();
    this.input = input;
    this.field = field;
    this.preview = preview;
    /** Where the bar stands in the text now. @type {import("./places.js").Span | null} */
    this.span = null;
    this.count = 0;
    this.changes = 0;
    input.addEventListener("input", () => this.put());
    input.addEventListener("keydown", (event) => this.onKey(event));
    preview.addEventListener("drawn", () => this.place());
  }

  get isOpen() {
    return this.span !== null;
  }

  /** Edit a bar. @param {DrawnBar} bar @param {string} typed already, in place of what is there */
  open(bar, typed) {
    const { start, end } = bar;
    this.begin({ start, end }, bar, `Bar ${this.preview.bars.indexOf(bar) + 1}`);
    if (typed) this.type(typed);
    else this.input.select();
  }

  /** @param {string} typed */
  type(typed) {
    this.input.value = typed;
    this.put();
  }

  /** Write a bar after a bar. @param {DrawnBar} bar @param {string} typed already */
  openAfter(bar, typed) {
    const room = roomAfter(this.field.text, bar);
    this.count += 1;
    this.replace(room.span, room.put);
    this.begin({ start: room.at, end: room.at }, bar, `New bar after bar ${this.preview.bars.indexOf(bar) + 1}`);
    if (typed) this.type(typed);
  }

  /** @param {import("./places.js").Span} span @param {DrawnBar} bar @param {string} name */
  begin(span, bar, name) {
    if (span.start < span.end) this.count += 1;
    this.changes = span.start < span.end ? 0 : 1;
    this.span = span;
    this.input.value = this.field.text.slice(span.start, span.end);
    this.input.setAttribute("aria-label", `${name}, as typed`);
    this.input.hidden = false;
    this.moveTo(bar, span.start === span.end);
    this.field.mark(span);
    this.input.focus({ preventScroll: true });
  }

  /** Replace the bar in the text by what the field says. */
  put() {
    if (!this.span) return;
    const put = this.input.value;
    const { at, ...edit } = this.changes ? { span: this.span, put, at: this.span.start } : replaceBar(this.field.text, this.span, put);
    this.span = { start: at, end: at + put.length };
    this.field.marked = this.span;
    this.replace(edit.span, edit.put);
    this.resize();
  }

  /** All that is done to one bar is undone as one. @param {import("./places.js").Span} span @param {string} put */
  replace(span, put) {
    this.changes += 1;
    this.field.replace(span, put, { kind: `bar ${this.count}` });
  }

  /** @param {KeyboardEvent} event */
  onKey(event) {
    if (event.isComposing) return;
    const { selectionStart, selectionEnd, value } = this.input;
    const still = selectionStart === selectionEnd && !event.shiftKey && !event.altKey && !event.ctrlKey;
    const to = { Enter: "here", Escape: "back", ArrowUp: "up", ArrowDown: "down" }[event.key]
      ?? (still && event.key === "ArrowLeft" && selectionStart === 0 ? "left" : undefined)
      ?? (still && event.key === "ArrowRight" && selectionEnd === value.length ? "right" : undefined);
    if (undoStep(event)) {
      // The bar as it was, or the step before it.
      event.preventDefault();
      event.stopPropagation();
      this.close("here");
      this.field.step(/** @type {-1 | 1} */ (undoStep(event)));
    } else if (to && !event.altKey && !event.ctrlKey && !event.metaKey) {
      event.preventDefault();
      event.stopPropagation();
      this.close(to);
    }
  }

  /** Done: an empty bar is taken out; "back" leaves the text as it was. @param {string} to */
  close(to) {
    if (!this.span) return;
    const span = this.span;
    let at = span.start;
    this.span = null;
    this.input.hidden = true;
    this.field.mark(null);
    if (to === "back" && this.changes) this.field.step(-1);
    else if (span.start === span.end) {
      const edit = removeBar(this.field.text, span);
      at = edit.at;
      this.replace(edit.span, edit.put);
    }
    this.dispatchEvent(new CustomEvent("closed", { detail: { at, to } }));
  }

  /** Stay on the bar when the sheet was drawn again. */
  place() {
    const { span } = this;
    const bar = span && this.preview.bars.find((one) => one.start <= span.start && span.start < one.end);
    if (bar) this.moveTo(bar, false);
  }

  /** @param {DrawnBar} bar @param {boolean} after beside it rather than on it */
  moveTo(bar, after) {
    const { sheet } = this.preview;
    const [own, whole] = [bar.button.getBoundingClientRect(), sheet.getBoundingClientRect()];
    this.resize();
    const left = (after ? own.right : own.left) - whole.left + sheet.scrollLeft - sheet.clientLeft;
    this.input.style.left = `${Math.max(0, Math.min(left, sheet.clientWidth - this.input.offsetWidth))}px`;
    this.input.style.top = `${own.top - whole.top + sheet.scrollTop - sheet.clientTop}px`;
    this.input.style.height = `${own.height}px`;
  }

  /** As wide as what it says. */
  resize() {
    this.input.style.width = `calc(${Math.max(3, this.input.value.length + 1)}ch + 1rem)`;
  }
}
