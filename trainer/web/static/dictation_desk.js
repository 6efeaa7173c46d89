// The teacher's desk of a live dictation: the band plays here alone, and the class is looked at once
// a second.

import { showAnswers } from "./bar_answers.js";
import { followVolume, Player, whyNoSound } from "./player.js";
import { ask, Refused, Unreachable } from "./server.js";

const EVERY_MS = 1000;

/** A learner's row. @typedef {{ name: string, is_here: boolean, written: number, right: number, of: number, is_handed_in: boolean }} Row */

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));
const { place = "", bars, phase } = byId("main").dataset;
const isOver = phase === "over";
const player = isOver ? null : new Player(byId("song"));
/** Counts what was asked for, so that a sound that comes late is passed over. */
let asked = 0;
/** What to tell the server when the sound begins. @type {[number, number] | null} */
let toTell = null;

/** @param {string} text */
const say = (text) => {
  byId("band-status").textContent = text;
};

/** @param {string} what @param {Record<string, string>} [form] */
const tell = (what, form = {}) => ask(`${place}/${what}`, { method: "POST", body: new URLSearchParams(form) });

/** @param {number} first @param {number} last */
async function play(first, last) {
  if (!player) return;
  const mine = ++asked;
  toTell = null;
  player.stop();
  try {
    const sound = await (await ask(`${place}/sound?first=${first}&last=${last}`)).json();
    if (mine !== asked) return;
    if (sound.error) return say(`There is no sound: ${sound.error}`);
    player.load(sound.url);
    toTell = [first, last];
    await player.play();
  } catch (error) {
    if (/** @type {Error} */ (error).name === "AbortError") return;
    say(player.audio.error ? await whyNoSound(player.audio) : /** @type {Error} */ (error).message);
  }
}

/** The sound has begun: the class is told so. */
async function began() {
  byId("stop").disabled = false;
  if (!toTell) return;
  const [first, last] = toTell;
  toTell = null;
  await tell("play", { first: String(first), last: String(last) }).catch(sayWhy);
}

async function stop() {
  asked += 1;
  toTell = null;
  player?.stop();
  byId("stop").disabled = true;
  await tell("stop").catch(sayWhy);
}

/** @param {unknown} error */
function sayWhy(error) {
  if (!(error instanceof Refused || error instanceof Unreachable)) throw error;
  say(error.message);
}

/** @param {Row} row */
function drawRow({ name, is_here, written, right, of, is_handed_in }) {
  const row = document.createElement("tr");
  const head = Object.assign(document.createElement("th"), { scope: "row", textContent: name });
  const page = is_handed_in ? "handed in" : is_here ? "open" : "not here";
  const cells = [page, String(written), of ? `${right} of ${of}` : "nothing to tell yet"];
  row.append(head, ...cells.map((textContent) => Object.assign(document.createElement("td"), { textContent })));
  return row;
}

/** @param {{ phase: string, sounding: number, heard: number }} now */
function sayWhere({ phase, sounding, heard }) {
  if (isOver || phase === "waiting") return;
  if (phase === "playing") say(sounding ? `The band is at bar ${sounding} of ${bars}.` : "The band counts in.");
  else say(heard ? `Stopped. The class has heard up to bar ${heard} of ${bars}.` : "Stopped.");
}

async function look() {
  try {
    const table = await (await ask(`${place}/table`)).json();
    byId("seats").replaceChildren(...table.rows.map(drawRow));
    sayWhere(table);
    await showAnswers(byId("answers"), place, byId("bar").valueAsNumber || 1);
  } catch (error) {
    if (!(error instanceof Refused || error instanceof Unreachable)) throw error;
  }
}

async function follow() {
  await look();
  if (!isOver) setTimeout(follow, EVERY_MS);
}

if (player) {
  // It may play in another window, or was playing when this page was loaded again.
  byId("stop").disabled = phase !== "playing";
  followVolume(byId("volume"), [player.audio]);
  player.addEventListener("playing", began);
  player.addEventListener("ended", stop);
  byId("play").addEventListener("click", () => play(1, Number(bars)));
  byId("stop").addEventListener("click", stop);
  byId("replay").addEventListener("click", () => play(byId("first").valueAsNumber || 1, byId("last").valueAsNumber || Number(bars)));
  byId("play").disabled = false;
  byId("replay").disabled = false;
}
byId("bar").addEventListener("change", () => {
  byId("screen").href = `${place}/screen?bar=${byId("bar").valueAsNumber || 1}`;
  look();
});
follow();
