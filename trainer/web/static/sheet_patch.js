// Bring the sheet that is drawn up to one the server sends, which has only the keys of those lines
// that are drawn already. Those lines stay where they are: the browser lays out only what is new.

const LINE = "[data-key]";
// What the server takes as one header; lines beyond it are sent again.
const MOST_KEYS = 1000;

/** The keys of the lines that are drawn, as the server is told them. @param {Element} drawing */
export function shownLines(drawing) {
  const lines = /** @type {NodeListOf<HTMLElement>} */ (drawing.querySelectorAll(LINE));
  return [...lines].slice(0, MOST_KEYS).map((line) => line.dataset.key).join(" ");
}

/** Draw what the server sent for the keys of `shownLines`. @param {Element} drawing @param {string} html */
export function patchSheet(drawing, html) {
  const sent = document.createElement("template");
  sent.innerHTML = html;
  const wanted = new Map(keyed(sent.content));
  const kept = new Map();
  for (const [key, line] of keyed(drawing)) if (wanted.get(key)?.hasChildNodes() === false) kept.set(key, line);
  patchChildren(drawing, sent.content, kept);
}

/** The lines within an element by their keys. @param {Element | DocumentFragment} element
 * @returns {[string, HTMLElement][]} */
function keyed(element) {
  const lines = /** @type {NodeListOf<HTMLElement>} */ (element.querySelectorAll(LINE));
  return [...lines].map((line) => [line.dataset.key ?? "", line]);
}

/** @param {Element} old @param {Element | DocumentFragment} wanted @param {Map<string, HTMLElement>} kept */
function patchChildren(old, wanted, kept) {
  /** @type {Element | null} */
  let at = old.firstElementChild;
  for (const want of /** @type {HTMLElement[]} */ ([...wanted.children])) {
    const line = want.dataset.key === undefined ? undefined : kept.get(want.dataset.key);
    while (line && at && at !== line && isStale(at, kept)) at = drop(at);
    if (line && line === at) at = at.nextElementSibling;
    else if (line) old.insertBefore(line, at);
    else if (at && isAlike(at, want)) {
      patchElement(at, want, kept);
      at = at.nextElementSibling;
    } else {
      for (const [key, hole] of keyed(want)) {
        const found = kept.get(key);
        if (found) hole.replaceWith(found);
      }
      if (at && isStale(at, kept)) {
        at.replaceWith(want);
        at = want.nextElementSibling;
      } else old.insertBefore(want, at);
    }
  }
  while (at) at = drop(at);
}

/** Whether an element is a line that does not stay. @param {Element} element
 * @param {Map<string, HTMLElement>} kept */
function isStale(element, kept) {
  const { key } = /** @type {HTMLElement} */ (element).dataset;
  return key !== undefined && kept.get(key) !== element;
}

/** Whether one may become the other: neither is a line, and both are of one kind.
 * @param {Element} one @param {Element} other */
function isAlike(one, other) {
  return !one.matches(LINE) && !other.matches(LINE) && one.tagName === other.tagName;
}

/** @param {Element} old @param {Element} want @param {Map<string, HTMLElement>} kept */
function patchElement(old, want, kept) {
  for (const { name, value } of want.attributes) {
    if (old.getAttribute(name) !== value) old.setAttribute(name, value);
  }
  if (want.querySelector(LINE)) patchChildren(old, want, kept);
  else if (old.innerHTML !== want.innerHTML) old.replaceChildren(...want.childNodes);
}

/** Remove an element with the space after it; the element that followed. @param {Element} element */
function drop(element) {
  const next = element.nextElementSibling;
  if (element.nextSibling?.nodeType === Node.TEXT_NODE) element.nextSibling.remove();
  element.remove();
  return next;
}
