// The words for the players that the band knows: a press puts one in at the caret.

import { spaced } from "./places.js";

/** @param {HTMLElement | null} list is there only where words may be written
 * @param {import("./chart_field.js").ChartField} field */
export function setUpBandWords(list, field) {
  list?.addEventListener("pointerdown", (event) => {
    // A press must not take the caret out of the text.
    if (document.activeElement === field.area && /** @type {HTMLElement} */ (event.target).closest("button")) event.preventDefault();
  });
  list?.addEventListener("click", (event) => {
    const { put } = /** @type {HTMLElement} */ (event.target).closest("button")?.dataset ?? {};
    if (!put) return;
    field.insert(spaced(field.text, field.caret, put));
    field.area.focus();
  });
}
