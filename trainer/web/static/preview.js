// The sheet, drawn by the server from whatever the text says so far.

import { ask, connection, Refused, Unreachable } from "./server.js";

const QUIET_MS = 1500;
const TOO_LARGE = 413;

export class Preview {
  /** @param {string} exercise @param {HTMLElement} sheet @param {HTMLElement} list of problems
   * @param {HTMLTextAreaElement} field */
  constructor(exercise, sheet, list, field) {
    this.list = list;
    this.url = `/preview/${exercise}`;
    this.sheet = sheet;
    this.field = field;
    /** The text drawn last, and how many problems are listed. */
    this.text = "";
    this.problemCount = 0;
    document.addEventListener("selectionchange", () => {
      this.hideUnfinished();
      if (document.activeElement === field) this.follow();
    });
    connection.addEventListener("restored", () => this.draw());
    list.addEventListener("click", (event) => this.goTo(/** @type {HTMLElement} */ (event.target)));
  }

  /** Draw the text as it is; an older drawing under way is given up. */
  async draw() {
    this.under?.abort();
    this.under = new AbortController();
    const { signal } = this.under;
    const text = this.field.value;
    this.typedAt = Date.now();
    try {
      const answer = await ask(this.url, { method: "POST", body: text, signal });
      const drawn = await answer.text();
      if (signal.aborted) return;
      this.sheet.innerHTML = drawn;
      this.sheet.classList.remove("outdated");
      this.text = text;
      this.list.replaceChildren(...this.sheet.querySelectorAll(".problems"));
      this.problemCount = this.list.querySelectorAll("li").length;
      performance.measure("sheet", { start: this.pressedAt ?? performance.now() });
      this.hideUnfinished();
      this.follow();
      clearTimeout(this.timer);
      this.timer = setTimeout(() => this.hideUnfinished(), QUIET_MS + 20);
    } catch (error) {
      if (signal.aborted) return;
      if (error instanceof Unreachable) this.sheet.classList.toggle("outdated", text !== this.text);
      else if (error instanceof Refused) {
        this.text = text;
        this.problemCount = 0;
        this.list.replaceChildren();
        const why = error.status === TOO_LARGE ? "Too long to be drawn." : error.message;
        this.sheet.replaceChildren(Object.assign(document.createElement("p"), { className: "alert", textContent: why }));
      } else throw error;
    }
  }

  /** What is being typed is not called wrong yet. */
  hideUnfinished() {
    const row = String(this.field.value.slice(0, this.field.selectionStart).split("\n").length);
    const typing = Date.now() - (this.typedAt ?? 0) < QUIET_MS && document.activeElement === this.field;
    const items = /** @type {HTMLElement[]} */ ([...this.list.querySelectorAll("li")]);
    const waits = (/** @type {HTMLElement} */ item) => typing && item.dataset.line === row;
    const some = items.some(waits);
    for (const item of items) item.classList.toggle("waiting", waits(item) || (some && item.className.includes("more")));
    for (const drawn of /** @type {NodeListOf<HTMLElement>} */ (this.sheet.querySelectorAll("[data-line]"))) {
      drawn.classList.toggle("typing", typing && drawn.dataset.line === row);
    }
  }

  /** Keep the line being written in sight. */
  follow() {
    const row = this.field.value.slice(0, this.field.selectionStart).split("\n").length;
    const lines = /** @type {HTMLElement[]} */ ([...this.sheet.querySelectorAll("[data-line]")]);
    const near = lines.findLast((one) => Number(one.dataset.line) <= row) ?? lines[0];
    if (!near || this.sheet.scrollHeight <= this.sheet.clientHeight) return;
    const [own, whole] = [near.getBoundingClientRect(), this.sheet.getBoundingClientRect()];
    if (own.bottom > whole.bottom) this.sheet.scrollTop += own.bottom - whole.bottom + own.height / 2;
    else if (own.top < whole.top) this.sheet.scrollTop -= whole.top - own.top + own.height / 2;
  }

  /** Put the caret where a problem is. @param {HTMLElement} target */
  goTo(target) {
    const item = target.closest("button") && target.closest("li");
    if (!item?.dataset.line) return;
    const lines = this.field.value.split("\n").slice(0, Number(item.dataset.line) - 1);
    const place = lines.reduce((sum, one) => sum + one.length + 1, 0) + Number(item.dataset.column) - 1;
    this.field.focus();
    this.field.setSelectionRange(place, place);
  }
}
