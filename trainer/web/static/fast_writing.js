// Ways to write no more than what differs: the line above, the last section of that name, and a sign
// for what is not known yet, to come back to.

import { lineAround, spaced } from "./places.js";

/** A name of a section alone on its line, as `Verse 2:`, `[Chorus]` or `Bridge`. */
const LABEL = /^\s*\[?\s*(\p{L}[\p{L} -]*?)\s*\d*\s*(?:\]\s*:?|:)\s*$|^\s*(intro|verse|pre-?chorus|chorus|bridge|turnaround|solo|instrumental|interlude|tag|outro|ending|coda)\s*\d*\s*$/iu;
const HEADER = /^\s*(title|meter|tempo|feel|key)\s*:/i;
/** A bar with the brackets before it, or a dot: digits that stand together are bars one by one. */
const BARS = /(?:\[[^\]]*\]\s*)*(?:\([^)]*\)[^\s.|,]*|[0-7](?=[0-7]+(?:[\s.|,]|$))|[^\s.[(|,]+)|\./g;

/** @param {string} line */
const isLabel = (line) => LABEL.test(line) && !HEADER.test(line);
/** @param {string} line */
const isBars = (line) => Boolean(line.trim()) && !isLabel(line) && !HEADER.test(line);

/** What the key for the line above puts in at the end of the caret's line: the line above on an empty
 * line, what is left of it on a line that has begun, the line itself anew where nothing is left.
 * @param {string} text @param {number} caret @returns {{ at: number, put: string } | null} */
export function lineAbove(text, caret) {
  const here = lineAround(text, caret);
  const own = text.slice(here.start, here.end);
  const above = text.slice(0, here.start).split("\n").slice(0, -1).findLast(isBars);
  if (!own.trim()) return above ? { at: here.end, put: above.trim() } : null;
  if (isLabel(own)) return above ? { at: here.end, put: `\n${above.trim()}` } : null;
  if (!isBars(own)) return null;
  const rest = above && restOf(above, own);
  if (!rest) return { at: here.end, put: `\n${own.trim()}` };
  return { at: here.end, put: /\s$/.test(own) ? rest : ` ${rest}` };
}

/** What the key for the section puts in: the lines of the last section of the caret's section's name,
 * or what is left of them after the lines that the section has already.
 * @param {string} text @param {number} caret @returns {{ at: number, put: string } | null} */
export function lastSection(text, caret) {
  const lines = text.slice(0, lineAround(text, caret).end).split("\n");
  const own = lines.findLastIndex(isLabel);
  if (own < 0) return null;
  const name = nameOf(lines[own]);
  const earlier = lines.findLastIndex((line, number) => number < own && isLabel(line) && nameOf(line) === name);
  if (earlier < 0) return null;
  const length = lines.slice(earlier + 1).findIndex(isLabel);
  const body = lines.slice(earlier + 1, earlier + 1 + length).filter(isBars);
  const rest = body.slice(lines.slice(own + 1).filter(isBars).length).map((line) => line.trim());
  if (!rest.length) return null;
  const at = lineAround(text, caret).end;
  return { at, put: `${lines.at(-1)?.trim() ? "\n" : ""}${rest.join("\n")}` };
}

/** The next gap after the caret, from the top again after the last.
 * @param {string} text @param {number} caret @returns {import("./places.js").Span | null} */
export function nextGap(text, caret) {
  const found = text.indexOf("?", caret);
  const start = found < 0 ? text.indexOf("?") : found;
  return start < 0 ? null : { start, end: start + 1 };
}

/** Do what a key or a button asks for in a field; what is to be said of it, "" for nothing.
 * @param {import("./chart_field.js").ChartField} field @param {string} what */
export function writeFast(field, what) {
  const { text, area } = field;
  if (what === "gap") field.insert(spaced(text, area.selectionStart, "?"));
  else if (what === "next-gap") {
    const gap = nextGap(text, area.selectionEnd);
    if (!gap) return "There is no gap.";
    area.focus();
    area.setSelectionRange(gap.start, gap.end);
    field.tell("caret");
  } else {
    const found = what === "line" ? lineAbove(text, area.selectionEnd) : lastSection(text, area.selectionEnd);
    if (!found) return what === "line" ? "There is no line above." : "There is no section of that name before this one.";
    field.replace({ start: found.at, end: found.at }, found.put);
  }
  return "";
}

/** What a line says after as many bars as another has. @param {string} line @param {string} other */
function restOf(line, other) {
  const isBar = (/** @type {RegExpMatchArray} */ token) => token[0] !== ".";
  let left = [...other.matchAll(BARS)].filter(isBar).length;
  for (const token of line.matchAll(BARS)) {
    if (left === 0 && (isBar(token) || !/\.\s*$/.test(other))) return line.slice(token.index).trim();
    if (isBar(token)) left -= 1;
  }
  return "";
}

/** @param {string} label */
function nameOf(label) {
  const name = label.replace(/[^\p{L}]/gu, "").toLowerCase();
  return { v: "verse", c: "chorus", ch: "chorus", b: "bridge", i: "intro", o: "outro", t: "tag" }[name] ?? name;
}
