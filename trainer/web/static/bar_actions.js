// What is done to a bar on the sheet, by a key, a tap or a button: edit, add, remove, end the phrase.

import { endsPhrase, removeBar, togglePhraseEnd } from "./bar_edits.js";
import { undoStep } from "./history.js";

/** @typedef {import("./preview.js").DrawnBar} DrawnBar */

const KEYS = { Delete: "remove", Backspace: "remove", "+": "add", ".": "phrase", F2: "edit", Escape: "done" };

export class BarActions {
  /** @param {import("./sheet_walk.js").SheetWalk} walk
   * @param {HTMLElement} tools the buttons for the bar that is chosen
   * @param {HTMLElement[]} around what belongs to the sheet when the focus goes there */
  constructor(walk, tools, around) {
    this.walk = walk;
    this.field = walk.field;
    this.preview = walk.preview;
    this.editor = walk.editor;
    this.tools = tools;
    /** What is typed into a bar before its field is there, null where none is coming. @type {string | null} */
    this.typed = null;
    const { drawing } = this.preview;
    drawing.addEventListener("click", (event) => {
      const bar = walk.barOf(/** @type {Element} */ (event.target));
      if (bar) this.do("edit", bar);
    });
    drawing.addEventListener("keydown", (event) => this.onKey(event));
    tools.addEventListener("click", (event) => {
      const { bar: what } = /** @type {HTMLElement} */ (event.target).closest("button")?.dataset ?? {};
      if (what && walk.chosen) this.do(what, walk.chosen);
    });
    for (const each of around) {
      each.addEventListener("focusout", (event) => {
        const to = /** @type {Node | null} */ (event.relatedTarget);
        if (to && !around.some((one) => one.contains(to))) this.leave();
      });
    }
    for (const target of [walk, this.preview]) {
      for (const name of ["chosen", "drawn"]) target.addEventListener(name, () => this.show());
    }
  }

  /** Do something to a bar as soon as the sheet shows the text as it is.
   * @param {string} what @param {DrawnBar} bar @param {string} [put] typed in its place */
  async do(what, bar, put) {
    if (this.typed !== null && what === "edit") {
      this.typed += put ?? "";
      return;
    }
    const number = this.preview.bars.indexOf(bar);
    if (this.editor.isOpen) this.editor.close(what === "done" ? "here" : "stay");
    else if (what === "done") return this.walk.toText(bar);
    if (what === "done") return;
    const opens = what === "edit" || what === "add";
    if (opens) this.typed = put ?? "";
    const isSettled = await this.preview.settle();
    const typed = this.typed ?? "";
    if (opens) this.typed = null;
    const now = this.preview.bars[number];
    if (!isSettled || !now) return;
    this.walk.choose(now);
    if (what === "edit") this.editor.open(now, typed);
    else if (what === "add") this.editor.openAfter(now, typed);
    else if (what === "remove") this.apply(removeBar(this.field.text, now));
    else {
      const next = this.preview.bars[number + 1];
      const ends = endsPhrase(this.field.text, now, next);
      if (ends !== null) this.apply(togglePhraseEnd(this.field.text, now, next, ends));
    }
  }

  /** @param {import("./bar_edits.js").Edit} edit */
  apply({ span, put, at }) {
    this.walk.hasFocus = true;
    this.walk.at = at;
    this.field.replace(span, put);
  }

  /** @param {KeyboardEvent} event */
  onKey(event) {
    const bar = this.walk.barOf(/** @type {Element} */ (event.target));
    const step = undoStep(event);
    if (step) this.field.step(step);
    else if (!bar || event.altKey || event.ctrlKey || event.metaKey || event.isComposing) return;
    else {
      const what = KEYS[/** @type {keyof typeof KEYS} */ (event.key)];
      if (what) this.do(what, bar);
      else if (event.key.length === 1 && event.key !== " ") this.do("edit", bar, event.key);
      else if (!this.walk.go(bar, event.key)) return;
    }
    event.preventDefault();
  }

  /** The focus has gone elsewhere: no bar is chosen any more. */
  leave() {
    if (this.editor.isOpen) this.editor.close("away");
    this.walk.choose(null);
  }

  /** Show what may be done to the bar that is chosen. */
  show() {
    const { chosen } = this.walk;
    this.tools.hidden = !chosen;
    if (!chosen) return;
    const { bars } = this.preview;
    const ends = endsPhrase(this.field.text, chosen, bars[bars.indexOf(chosen) + 1]);
    const button = /** @type {HTMLButtonElement} */ (this.tools.querySelector("[data-bar=phrase]"));
    button.disabled = ends === null;
    const text = ends ? "Join the phrases" : "End the phrase";
    const what = /** @type {HTMLElement} */ (button.querySelector(".what"));
    if (what.textContent !== text) what.textContent = text;
  }
}
