// What is said of the bars, on the sheet.

/** Keep what hangs below the bars within the sheet. @param {HTMLElement} sheet */
export function placeNotes(sheet) {
  const right = sheet.getBoundingClientRect().right - parseFloat(getComputedStyle(sheet).paddingRight);
  for (const note of /** @type {NodeListOf<HTMLElement>} */ (sheet.querySelectorAll(".bar > .note"))) {
    note.style.left = "";
    note.style.left = `${Math.min(0, right - note.getBoundingClientRect().right)}px`;
  }
}
