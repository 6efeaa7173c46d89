// Keep the line that is being written in sight: within the field where that scrolls, and on the page
// between what stays at the top of the screen and what stays at its bottom.

/** @typedef {import("./chart_field.js").ChartField} ChartField */

const MARGIN_PX = 8;

/** Follow the caret of a field. @param {ChartField} field
 * @param {HTMLElement[]} above what may stay at the top of the screen
 * @param {HTMLElement} below what may stay at its bottom */
export function followCaret(field, above, below) {
  const follow = () => {
    // While a bar is edited on the sheet, the field shows that bar.
    if (field.marked) return;
    const { top, height } = caretPlace(field);
    scrollField(field.area, top, height);
    // Keys on the screen type without the focus; the page stays where the finger is.
    if (document.activeElement === field.area) scrollPage(field.area.getBoundingClientRect().top + top - field.area.scrollTop, height, above, below);
  };
  field.addEventListener("change", follow);
  field.addEventListener("caret", follow);
  window.visualViewport?.addEventListener("resize", follow);
}

/** How far below the top of the text the caret's line begins, and how high it is.
 * @param {ChartField} field */
export function caretPlace({ area, mirror, text }) {
  const range = document.createRange();
  let left = Math.min(area.selectionEnd, text.length);
  for (const walker = document.createTreeWalker(mirror, NodeFilter.SHOW_TEXT); walker.nextNode(); ) {
    const node = /** @type {Text} */ (walker.currentNode);
    // Before the sign that follows: after a line end that is the next line.
    if (left < node.length) {
      range.setStart(node, left);
      range.setEnd(node, left + 1);
      break;
    }
    left -= node.length;
  }
  const [own] = [...range.getClientRects()].slice(-1);
  const whole = mirror.getBoundingClientRect();
  const height = parseFloat(getComputedStyle(area).lineHeight);
  if (!own) return { top: 0, height };
  return { top: own.top - whole.top - mirror.clientTop + mirror.scrollTop - (height - own.height) / 2, height };
}

/** @param {HTMLTextAreaElement} area @param {number} top @param {number} height */
function scrollField(area, top, height) {
  const padding = parseFloat(getComputedStyle(area).paddingTop);
  if (top - padding < area.scrollTop) area.scrollTop = top - padding;
  else if (top + height + padding > area.scrollTop + area.clientHeight) area.scrollTop = top + height + padding - area.clientHeight;
}

/** @param {number} top on the screen @param {number} height
 * @param {HTMLElement[]} above @param {HTMLElement} below */
function scrollPage(top, height, above, below) {
  const view = window.visualViewport;
  const highest = Math.max(view?.offsetTop ?? 0, ...above.map((one) => one.getBoundingClientRect().bottom)) + MARGIN_PX;
  const edge = view ? view.offsetTop + view.height : innerHeight;
  const lowest = Math.min(edge, below.getBoundingClientRect().top) - MARGIN_PX;
  if (lowest - highest < height) return;
  if (top + height > lowest) scrollBy(0, top + height - lowest);
  else if (top < highest) scrollBy(0, top - highest);
}
