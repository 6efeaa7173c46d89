// How the text changes when a bar is added, removed or made the end of a phrase on the sheet.

/** @typedef {import("./places.js").Span} Span */
/** A stretch of the text and what is put in its place; `at` is where the bar at hand then begins.
 * @typedef {{ span: Span, put: string, at: number }} Edit */

/** What may stand between two bars of one line and means nothing by itself. */
const BETWEEN = /^[\s.,|]*$/;

/** Whether two texts would run into each other. @param {string} before @param {string} after */
const run = (before, after) => /[^\s(]$/.test(before) && /^[^\s.)]/.test(after);

/** Put another text in place of a bar, apart from what stands beside it.
 * @param {string} text @param {Span} bar @param {string} put @returns {Edit} */
export function replaceBar(text, bar, put) {
  const left = run(text.slice(0, bar.start), put) ? " " : "";
  const right = run(put, text.slice(bar.end)) ? " " : "";
  return { span: bar, put: left + put + right, at: bar.start + left.length };
}

/** Make room for a bar after a bar; `at` is where it will stand.
 * @param {string} text @param {Span} bar @returns {Edit} */
export function roomAfter(text, bar) {
  const right = /^[^\s.)]/.test(text.slice(bar.end)) ? " " : "";
  return { span: { start: bar.end, end: bar.end }, put: ` ${right}`, at: bar.end + 1 };
}

/** Take a bar out, with the space, the dot or the line that would be left over.
 * @param {string} text @param {Span} bar @returns {Edit} */
export function removeBar(text, bar) {
  const before = text.slice(0, bar.start);
  const after = text.slice(bar.end);
  const starts = /(^|\n|[.|])[^\S\n]*$/.test(before);
  let cutBefore = /[^\S\n]*$/.exec(before)?.[0].length ?? 0;
  let cutAfter = starts ? (/^[^\S\n]*/.exec(after)?.[0].length ?? 0) : 0;
  const rest = after.slice(cutAfter);
  if (starts && rest.startsWith(".")) cutAfter += /^\.[^\S\n]*/.exec(rest)?.[0].length ?? 0;
  const isLineStart = /(^|\n)$/.test(before.slice(0, before.length - cutBefore));
  const isLineEnd = /^(\n|$)/.test(after.slice(cutAfter));
  if (isLineStart && isLineEnd) {
    if (after.slice(cutAfter).startsWith("\n")) cutAfter += 1;
    else if (before.length > cutBefore) cutBefore += 1;
    return { span: { start: bar.start - cutBefore, end: bar.end + cutAfter }, put: "", at: bar.start - cutBefore };
  }
  if (starts) cutBefore = 0;
  const span = { start: bar.start - cutBefore, end: bar.end + cutAfter };
  const put = run(text.slice(0, span.start), text.slice(span.end)) ? " " : "";
  return { span, put, at: span.start };
}

/** Whether a phrase ends after a bar; null where it has to, for there is no bar after it that
 * belongs to the same section. @param {string} text
 * @param {{ start: number, end: number, section: unknown }} bar
 * @param {{ start: number, section: unknown } | undefined} next */
export function endsPhrase(text, bar, next) {
  if (!next || next.section !== bar.section || !BETWEEN.test(text.slice(bar.end, next.start))) return null;
  return /[.\n]/.test(text.slice(bar.end, next.start));
}

/** End the phrase after a bar, or let it go on where it ends there.
 * @param {string} text @param {Span} bar @param {Span} next @param {boolean} ends whether it does now
 * @returns {Edit} */
export function togglePhraseEnd(text, bar, next, ends) {
  const span = { start: bar.end, end: next.start };
  const between = text.slice(span.start, span.end);
  const bars = between.includes("|") ? "| " : "";
  return { span, put: ends ? ` ${bars}` : ` . ${bars}`, at: bar.start };
}
