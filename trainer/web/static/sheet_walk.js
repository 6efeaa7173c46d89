// The bars of the sheet: walked with the arrow keys, and shown in the text as the caret in the text
// is shown on them.

import { scrollInto } from "./preview.js";

/** @typedef {import("./preview.js").DrawnBar} DrawnBar */

/** Event "chosen" when another bar is chosen on the sheet, or none. */
export class SheetWalk extends EventTarget {
  /** @param {import("./preview.js").Preview} preview @param {import("./chart_field.js").ChartField} field
   * @param {import("./bar_editor.js").BarEditor} editor */
  constructor(preview, field, editor) {
    super();
    this.preview = preview;
    this.field = field;
    this.editor = editor;
    /** Where the bar chosen on the sheet stands in the text, null if none is. @type {number | null} */
    this.at = null;
    this.hasFocus = false;
    /** The bar that Tab reaches, and the one at which the caret in the text is.
     * @type {HTMLButtonElement | undefined} */
    this.stop = undefined;
    /** @type {HTMLButtonElement | undefined} */
    this.current = undefined;
    const { drawing } = preview;
    preview.addEventListener("draw", () => (this.hasFocus ||= drawing.contains(document.activeElement)));
    preview.addEventListener("drawn", () => this.onDrawn());
    field.addEventListener("caret", () => this.showCaret());
    drawing.addEventListener("focusin", (event) => this.choose(this.barOf(/** @type {Element} */ (event.target)) ?? null));
    editor.addEventListener("closed", (event) => this.onClosed(/** @type {CustomEvent} */ (event).detail));
  }

  /** The bar chosen on the sheet. */
  get chosen() {
    const at = this.editor.span?.start ?? this.at;
    return at === null ? undefined : barAt(this.preview.bars, at);
  }

  /** The bar of an element on the sheet. @param {Element} element */
  barOf(element) {
    const button = element.closest(".bar-button");
    return this.preview.bars.find((bar) => bar.button === button);
  }

  /** @param {DrawnBar | null} bar */
  choose(bar) {
    this.at = bar?.start ?? null;
    if (bar) this.stopAt(bar);
    if (!this.editor.isOpen) this.field.mark(bar && { start: bar.start, end: bar.end });
    this.showCaret();
    this.dispatchEvent(new Event("chosen"));
  }

  /** Of all bars one is reached by Tab; arrows go on from there. @param {DrawnBar | undefined} bar */
  stopAt(bar) {
    if (this.stop !== bar?.button) this.stop?.setAttribute("tabindex", "-1");
    this.stop = bar?.button;
    if (this.stop && this.stop.tabIndex !== 0) this.stop.tabIndex = 0;
  }

  /** Go from a bar to another; whether the key leads anywhere. @param {DrawnBar} bar @param {string} key */
  go(bar, key) {
    const { bars } = this.preview;
    const here = bars.indexOf(bar);
    const up = bars.findLast((one) => one.line < bar.line);
    const down = bars.find((one) => one.line > bar.line);
    const to = {
      ArrowLeft: bars[here - 1], ArrowRight: bars[here + 1], Home: bars[0], End: bars.at(-1),
      ArrowUp: up && nearest(bars.filter((one) => one.line === up.line), bar),
      ArrowDown: down && nearest(bars.filter((one) => one.line === down.line), bar),
    };
    if (!(key in to)) return false;
    this.focus(to[/** @type {keyof typeof to} */ (key)]);
    return true;
  }

  /** @param {DrawnBar | undefined} bar */
  focus(bar) {
    if (!bar) return;
    bar.button.focus({ preventScroll: true });
    scrollInto(this.preview.sheet, bar.item);
  }

  /** Back to the text, at the end of a bar. @param {DrawnBar} bar */
  toText(bar) {
    this.field.area.focus();
    this.field.area.setSelectionRange(bar.end, bar.end);
    this.choose(null);
  }

  /** @param {{ at: number, to: string }} how */
  async onClosed({ at, to }) {
    this.at = at;
    const key = { left: "ArrowLeft", right: "ArrowRight", up: "ArrowUp", down: "ArrowDown" }[to];
    if (["away", "stay"].includes(to) || !(await this.preview.settle()) || !this.chosen) return;
    this.focus(this.chosen);
    if (key) this.go(this.chosen, key);
  }

  onDrawn() {
    const bar = this.chosen;
    this.stopAt(bar ?? this.preview.bars[0]);
    if (bar && this.hasFocus && !this.editor.isOpen) this.focus(bar);
    this.hasFocus = false;
    this.showCaret();
  }

  /** Show on the sheet which bar the caret in the text is at. */
  showCaret() {
    const { text, caret, area } = this.field;
    const bar = this.preview.text === text && document.activeElement === area ? barAt(this.preview.bars, caret) : undefined;
    if (this.current !== bar?.button) this.current?.removeAttribute("aria-current");
    this.current = bar?.button;
    this.current?.setAttribute("aria-current", "true");
    if (bar && this.at === null) this.stopAt(bar);
  }
}

/** The bar at an offset: the one around it, or that ends or begins there. @param {DrawnBar[]} bars @param {number} at */
function barAt(bars, at) {
  return bars.find((bar) => bar.start <= at && at < bar.end) ?? bars.find((bar) => bar.end === at);
}

/** @param {DrawnBar[]} bars @param {DrawnBar} to */
function nearest(bars, to) {
  const left = to.button.getBoundingClientRect().left;
  const away = (/** @type {DrawnBar} */ bar) => Math.abs(bar.button.getBoundingClientRect().left - left);
  return bars.reduce((best, bar) => (away(bar) < away(best) ? bar : best));
}
