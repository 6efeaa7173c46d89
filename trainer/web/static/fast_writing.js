// Ways to write no more than what differs: the line above, the last section of that name, and a sign
// for what is not known yet, to come back to.

import { lineAround, spaced } from "./places.js";

/** A line with a section's name, as `Verse 2:`, `[Chorus]`, `Bridge` or `V1: 1 4 5 1`: name and bars. */
const LABELLED = /^\s*(\p{L}[\p{L}\d -]*?)\s*:(.*)$|^\s*\[\s*(\p{L}[\p{L}\d -]*?)\s*\]\s*:?()\s*$|^\s*((?:intro|verse|pre-?chorus|chorus|bridge|turnaround|solo|instrumental|interlude|tag|outro|ending|coda)\s*\d*(?:\s*\([^\d()]*\)|\s*[–—-])?|(?:v|ch|c|pc|i|ta)\s*[1-5]|ch|pc|ta|inst)()\s*$/iu;
const HEADER = /^\s*(title|meter|tempo|feel|key|chords|capo|count-off)\s*:/i;
/** A bar with the brackets and hits before it, or a dot: digits that stand together are bars one by one. */
const BARS = /(?:(?:\[[^\]]*\]|\*[\d+,]+)\s*)*(?:\([^)]*\)[^\s.|,]*|[0-7](?=[0-7]+(?:[\s.|,]|$))|[^\s.[(|,]+)|\./g;

/** A line's section name, null where it has none, and its bars. @param {string} line */
function read(line) {
  line = line.replace(/(^|\s)@.*$/, "");
  if (HEADER.test(line)) return { label: null, bars: "" };
  const found = LABELLED.exec(line)?.slice(1).filter((part) => part !== undefined);
  return found ? { label: found[0], bars: found[1].trim() } : { label: null, bars: line.trim() };
}

/** What the key for the line above puts in at the end of the caret's line: the line above on an empty
 * line, what is left of it on a line that has begun, or the line itself once more if nothing is left.
 * @param {string} text @param {number} caret @returns {{ at: number, put: string } | null} */
export function lineAbove(text, caret) {
  const here = lineAround(text, caret);
  const typed = text.slice(here.start, here.end);
  const { label, bars } = read(typed);
  const above = text.slice(0, here.start).split("\n").slice(0, -1).map((line) => read(line).bars).findLast(Boolean);
  if (!bars) return above ? { at: here.end, put: `${label === null ? "" : "\n"}${above}` } : null;
  const rest = above && restOf(above, bars);
  if (!rest) return { at: here.end, put: `\n${bars}` };
  return { at: here.end, put: /\s$/.test(typed) ? rest : ` ${rest}` };
}

/** What the key for the section puts in: the lines of the last section of the caret's section's name,
 * or what is left of them after the lines that the section has already.
 * @param {string} text @param {number} caret @returns {{ at: number, put: string } | null} */
export function lastSection(text, caret) {
  const at = lineAround(text, caret).end;
  const typed = text.slice(0, at).split("\n");
  const lines = typed.map(read);
  const own = lines.findLastIndex((line) => line.label !== null);
  if (own < 0) return null;
  const name = nameOf(lines[own].label);
  const earlier = lines.findLastIndex((line, number) => number < own && line.label !== null && nameOf(line.label) === name);
  if (earlier < 0) return null;
  const length = lines.slice(earlier + 1).findIndex((line) => line.label !== null) + 1;
  const bars = (/** @type {{ bars: string }[]} */ some) => some.map((line) => line.bars).filter(Boolean);
  const rest = bars(lines.slice(earlier, earlier + length)).slice(bars(lines.slice(own)).length);
  if (!rest.length) return null;
  return { at, put: `${typed.at(-1)?.trim() ? "\n" : ""}${rest.join("\n")}` };
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
    if (!found) return what === "line" ? "There is no line above." : "There is no earlier section with that name.";
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

/** @param {string | null} label */
function nameOf(label) {
  const name = (label ?? "").replace(/\(.*\)/, "").replace(/[^\p{L}]/gu, "").toLowerCase();
  return { v: "verse", c: "chorus", ch: "chorus", pc: "prechorus", ta: "turnaround", b: "bridge", i: "intro", o: "outro", t: "tag" }[name] ?? name;
}
