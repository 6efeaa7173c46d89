// The result: choose bars, read the advice on them, hear each as played and as written.

import { listenToKeys } from "./shortcuts.js";
import { ask } from "./server.js";
import { followVolume, Player, whyNoSound } from "./player.js";
import { setUpCopying } from "./clipboard.js";
import { AdviceList } from "./advice.js";

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));
const { attempt, worst } = byId("main").dataset;
const player = new Player(byId("song"));
const pairs = /** @type {HTMLButtonElement[]} */ ([...document.querySelectorAll(".pair")]);
const mistakes = pairs.filter((pair) => "mistake" in pair.dataset);
const advice = new AdviceList(byId("advice"), byId("advice-name"), byId("no-advice"), byId("all-advice"), pairs);
const verdict = byId("selection").textContent;
const canHearWritten = !byId("hear-written").disabled;
/** @type {HTMLButtonElement | null} */
let selected = null;
/** What is being heard. @type {{ button: HTMLElement, pair: HTMLElement | null, side: string } | null} */
let playing = null;

followVolume(byId("volume"), [player.audio]);

/** @param {HTMLElement} button that stands for it
 * @param {string} side @param {string} [stretch] first and last bar; left out: all
 * @param {string} [like] the song's bar whose section it stands in */
async function hear(button, side, stretch, like) {
  const pair = button.classList.contains("listen-button") ? null : selected;
  const [first, last] = stretch?.split(" ") ?? [];
  const bars = stretch ? `&first=${first}&last=${last}${like ? `&like=${like}` : ""}` : "";
  try {
    const sound = await (await ask(`/result/${attempt}/sound?side=${side}${bars}`)).json();
    if (sound.error) return say(`There is no sound: ${sound.error}`);
    player.load(sound.url);
    playing = { button, pair, side };
    await player.play();
  } catch (error) {
    say(player.audio.error ? await whyNoSound(player.audio) : /** @type {Error} */ (error).message);
  }
}

/** @param {string} text */
function say(text) {
  byId("selection").textContent = text;
}

/** Choose a bar, or none for the whole song. @param {HTMLButtonElement | null} pair */
function choose(pair) {
  selected?.setAttribute("aria-pressed", "false");
  selected = pair;
  pair?.setAttribute("aria-pressed", "true");
  if (pair) stopAt(pair);
  say(pair ? pair.querySelector(".spoken")?.textContent ?? "" : verdict);
  byId("hear-played").querySelector(".what").textContent = pair ? "Hear this bar" : "Hear the whole song";
  byId("hear-written").querySelector(".what").textContent = pair ? "Hear yours" : "Hear all you wrote";
  byId("hear-played").disabled = Boolean(pair && !pair.dataset.played);
  byId("hear-written").disabled = pair ? !pair.dataset.written : !canHearWritten;
  if (byId("practise-bar")) byId("practise-bar").value = pair?.dataset.like ?? "";
  advice.showFor(pair);
}

/** Of all bars only one is reached by Tab; arrows go on from there. @param {HTMLElement} pair */
function stopAt(pair) {
  for (const one of pairs) one.tabIndex = one === pair ? 0 : -1;
}

/** Mark which button and which half of a bar is heard now. */
function mark() {
  byId("stop-sound").disabled = !player.isPlaying;
  const { button = null, pair = null, side = "" } = (player.isPlaying && playing) || {};
  for (const one of document.querySelectorAll("#hear-played, #hear-written, .listen-button")) one.setAttribute("aria-pressed", String(one === button));
  for (const one of pairs) one.removeAttribute("data-playing");
  pair?.setAttribute("data-playing", side);
}

/** Arrows go from bar to bar, Enter plays, Escape chooses none.
 * @param {KeyboardEvent} event @param {HTMLButtonElement} pair */
function onKey(event, pair) {
  if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
  const direction = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
  if (event.key === "Escape") return choose(null);
  if (!direction && event.key !== "Enter") return;
  event.preventDefault();
  const next = direction ? pairs[pairs.indexOf(pair) + direction] : pair;
  if (next) focusOn(next);
  if (!direction && !event.repeat && pair.dataset.played) byId("hear-played").click();
}

/** @param {HTMLButtonElement} pair */
function focusOn(pair) {
  choose(pair);
  pair.focus();
}

/** The next mistake that direction round. @param {number} direction */
function step(direction) {
  const here = selected ? pairs.indexOf(selected) : direction > 0 ? -1 : pairs.length;
  const order = direction > 0 ? mistakes : [...mistakes].reverse();
  const next = order.find((pair) => (pairs.indexOf(pair) - here) * direction > 0) ?? order[0];
  if (next) focusOn(next);
}

/** Choose the first bar of the costliest advice, in sight within the charts: the page itself stays
 * at its top, where the result is summed up. */
function chooseWorst() {
  const pair = worst && pairs.find((one) => (one.dataset.advice ?? "").split(" ").includes(worst));
  if (!pair) return;
  choose(pair);
  const charts = byId("both-charts");
  const [own, whole] = [pair.getBoundingClientRect(), charts.getBoundingClientRect()];
  charts.scrollTop += own.top - whole.top - (Math.min(whole.height, innerHeight - whole.top) - own.height) / 2;
}

for (const pair of pairs) {
  pair.addEventListener("click", () => choose(pair === selected ? null : pair));
  pair.addEventListener("keydown", (event) => onKey(event, pair));
}
if (pairs[0]) stopAt(pairs[0]);
byId("next-mistake").addEventListener("click", () => step(1));
byId("previous-mistake").addEventListener("click", () => step(-1));
byId("hear-played").addEventListener("click", () => hear(byId("hear-played"), "played", selected?.dataset.played, selected?.dataset.like));
byId("hear-written").addEventListener("click", () => hear(byId("hear-written"), "written", selected?.dataset.written, selected?.dataset.like));
byId("stop-sound").addEventListener("click", () => player.stop());
for (const button of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll(".listen-button"))) {
  const { side = "", first, last, like } = button.dataset;
  button.addEventListener("click", () => hear(button, side, `${first} ${last}`, like));
}
for (const name of ["playing", "pause", "ended"]) {
  player.addEventListener(name, mark);
}
listenToKeys(() => true);
setUpCopying();
chooseWorst();
