// Places in the text: the server names them by line and column, the field by offset.

/** Where something is typed: offsets in the text, `end` after its last character.
 * @typedef {{ start: number, end: number }} Span */

/** The offset of a line and a column, both from 1. A column counts characters as the server does,
 * a sign beyond the 16 bits of a unit as one.
 * @param {string} text @param {number} line @param {number} column */
export function offsetOf(text, line, column) {
  return offsetsIn(text)(line, column);
}

/** `offsetOf` for many places in one text. @param {string} text
 * @returns {(line: number, column: number) => number} */
export function offsetsIn(text) {
  let start = 0;
  const lines = text.split("\n").map((typed) => {
    const line = { start, typed, isPlain: !/[\ud800-\udfff]/.test(typed) };
    start += typed.length + 1;
    return line;
  });
  return (number, column) => {
    const line = lines[number - 1] ?? lines[lines.length - 1];
    const within = line.isPlain ? Math.min(column - 1, line.typed.length) : [...line.typed].slice(0, column - 1).join("").length;
    return line.start + within;
  };
}

/** The number of the line (from 1) that an offset is in. @param {string} text @param {number} offset */
export function lineAt(text, offset) {
  return text.slice(0, offset).split("\n").length;
}

/** The line around an offset, without its line end. @param {string} text @param {number} offset
 * @returns {Span} */
export function lineAround(text, offset) {
  const end = text.indexOf("\n", offset);
  return { start: text.lastIndexOf("\n", offset - 1) + 1, end: end < 0 ? text.length : end };
}

/** What is put in before an offset, a space set before it where it would run into what stands there.
 * @param {string} text @param {number} offset @param {string} put */
export function spaced(text, offset, put) {
  const before = text.slice(0, offset);
  // In letter names the accidental follows its letter.
  if (/^[b#]$/.test(put) && /(^|[\s/(.])[A-G]$/.test(before)) return put;
  const starts = /^[0-7A-Gb#(.?[]/.test(put) && /[0-9ø+\-'.a-z?)\]]$/i.test(before);
  return starts && !/(^|[\s/(.])[b#]$/.test(before) ? ` ${put}` : put;
}
