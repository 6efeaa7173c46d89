// The sheet, drawn by the server from whatever the text says so far.

import { lineAt, offsetOf, offsetsIn } from "./places.js";
import { ask, connection, Refused, Unreachable } from "./server.js";
import { patchSheet, shownLines } from "./sheet_patch.js";

/** A bar on the sheet: where it is typed, what it is drawn in, which section it belongs to.
 * @typedef {{ start: number, end: number, line: number, button: HTMLButtonElement, item: HTMLElement, section: Element | null }} DrawnBar */

const QUIET_MS = 1500;
const TOO_LARGE = 413;

/** Events: "draw" before the sheet is drawn again, "drawn" after it, "told" when other notes may be
 * in sight. */
export class Preview extends EventTarget {
  /** @param {string} exercise @param {HTMLElement} sheet what scrolls
   * @param {HTMLElement} drawing what is drawn in, within it
   * @param {import("./chart_field.js").ChartField} field */
  constructor(exercise, sheet, drawing, field) {
    super();
    this.url = `/preview/${exercise}`;
    this.sheet = sheet;
    this.drawing = drawing;
    this.field = field;
    /** When the text was changed, on two clocks. */
    this.typedAt = this.pressedAt = 0;
    /** The text drawn last. */
    this.text = "";
    /** How many problems and questions the text has, and how many gaps. */
    this.openCount = this.gapCount = 0;
    /** @type {DrawnBar[]} */
    this.bars = [];
    /** The drawing under way. @type {Promise<void>} */
    this.last = Promise.resolve();
    field.addEventListener("caret", () => {
      this.hideUnfinished();
      this.follow();
    });
    connection.addEventListener("restored", () => this.draw());
    drawing.addEventListener("click", (event) => this.goTo(/** @type {HTMLElement} */ (event.target)));
  }

  /** Draw the text as it is; an older drawing under way is given up. */
  draw() {
    this.under?.abort();
    this.under = new AbortController();
    this.typedAt = Date.now();
    this.pressedAt = performance.now();
    this.last = this.drawText(this.field.text, this.under.signal);
    return this.last;
  }

  /** Wait until what is drawn is the text; whether it is. */
  async settle() {
    if (this.text !== this.field.text) await this.last;
    return this.text === this.field.text;
  }

  /** @param {string} text @param {AbortSignal} signal */
  async drawText(text, signal) {
    try {
      const headers = { "Shown-Lines": shownLines(this.drawing) };
      const answer = await ask(this.url, { method: "POST", body: text, signal, headers });
      const drawn = await answer.text();
      if (signal.aborted) return;
      this.show(text, drawn);
      performance.measure("sheet", { start: this.pressedAt });
    } catch (error) {
      if (signal.aborted) return;
      if (error instanceof Unreachable) this.sheet.classList.toggle("outdated", text !== this.text);
      else if (error instanceof Refused) {
        const why = error.status === TOO_LARGE ? "This is too long to draw." : error.message;
        const alert = Object.assign(document.createElement("p"), { className: "alert", textContent: why });
        this.show(text, alert.outerHTML);
      } else throw error;
    }
  }

  /** @param {string} text @param {string} drawn as HTML */
  show(text, drawn) {
    this.dispatchEvent(new Event("draw"));
    patchSheet(this.drawing, drawn);
    this.sheet.classList.remove("outdated");
    this.text = text;
    const root = /** @type {HTMLElement | null} */ (this.drawing.querySelector(".written"));
    this.openCount = Number(root?.dataset.open ?? 0);
    this.gapCount = Number(root?.dataset.gaps ?? 0);
    const items = /** @type {NodeListOf<HTMLElement>} */ (this.drawing.querySelectorAll(".bar"));
    const offsetAt = offsetsIn(text);
    this.bars = [...items].map((item) => drawnBar(offsetAt, item));
    this.hideUnfinished();
    this.follow();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.hideUnfinished(), QUIET_MS + 20);
    this.dispatchEvent(new Event("drawn"));
  }

  /** What is being typed is not called wrong yet: event "told" when what is said has changed. */
  hideUnfinished() {
    const { area, text, caret } = this.field;
    const row = String(lineAt(text, caret));
    const typing = Date.now() - this.typedAt < QUIET_MS && document.activeElement === area;
    for (const line of /** @type {NodeListOf<HTMLElement>} */ (this.drawing.querySelectorAll(".line"))) {
      line.classList.toggle("typing", typing && line.dataset.line === row);
    }
    this.dispatchEvent(new Event("told"));
  }

  /** Keep the line being written in sight. */
  follow() {
    if (document.activeElement !== this.field.area) return;
    const row = lineAt(this.field.text, this.field.caret);
    const lines = /** @type {HTMLElement[]} */ ([...this.drawing.querySelectorAll(".line")]);
    const near = lines.findLast((one) => Number(one.dataset.line) <= row) ?? lines[0];
    if (near) scrollInto(this.sheet, near);
  }

  /** Put the caret where a problem is. @param {HTMLElement} target */
  goTo(target) {
    const { line, column } = target.closest("button")?.dataset ?? {};
    if (!line) return;
    const place = offsetOf(this.field.text, Number(line), Number(column));
    this.field.area.focus();
    this.field.area.setSelectionRange(place, place);
  }
}

/** @param {(line: number, column: number) => number} offsetAt @param {HTMLElement} item
 * @returns {DrawnBar} */
function drawnBar(offsetAt, item) {
  const [line, column, end] = [item.dataset.line, item.dataset.column, item.dataset.end].map(Number);
  const button = /** @type {HTMLButtonElement} */ (item.querySelector("button"));
  return { start: offsetAt(line, column), end: offsetAt(line, end), line, button, item, section: item.closest(".sheet-section") };
}

/** Scroll a box no further than it takes to have something in it in sight.
 * @param {HTMLElement} box @param {HTMLElement} inside */
export function scrollInto(box, inside) {
  if (box.scrollHeight <= box.clientHeight) return;
  const [own, whole] = [inside.getBoundingClientRect(), box.getBoundingClientRect()];
  if (own.bottom > whole.bottom) box.scrollTop += own.bottom - whole.bottom + own.height / 2;
  else if (own.top < whole.top) box.scrollTop -= whole.top - own.top + own.height / 2;
}
