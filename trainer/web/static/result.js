// The result: step through the bars, hear each as played and as written.

import { listenToKeys } from "./shortcuts.js";
import { ask } from "./server.js";
import { followVolume, Player, whyNoSound } from "./player.js";
import { setUpCopying } from "./clipboard.js";

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));
const { attempt } = byId("main").dataset;
const player = new Player(byId("song"));
const pairs = /** @type {HTMLButtonElement[]} */ ([...document.querySelectorAll(".pair")]);
const wrong = pairs.filter((pair) => pair.classList.contains("wrong"));
/** @type {HTMLButtonElement | null} */
let selected = null;
/** What is being heard. @type {{ button: HTMLElement, pair: HTMLElement | null, side: string } | null} */
let playing = null;

followVolume(byId("volume"), [player.audio]);

/** @param {HTMLElement} button that stands for it
 * @param {string} side @param {string} [stretch] first and last bar; left out: all
 * @param {string} [like] the song's bar whose section it stands in */
async function hear(button, side, stretch, like) {
  const pair = button.closest(".listen-bar") ? selected : null;
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

/** @param {HTMLButtonElement} pair */
function choose(pair) {
  selected?.setAttribute("aria-pressed", "false");
  selected = pair;
  pair.setAttribute("aria-pressed", "true");
  pair.focus();
  say(pair.querySelector(".spoken")?.textContent ?? "");
  byId("hear-played").querySelector(".what").textContent = "Hear as played";
  byId("hear-written").querySelector(".what").textContent = "Hear as written";
  byId("hear-played").disabled = !pair.dataset.played;
  byId("hear-written").disabled = !pair.dataset.written;
}

/** Mark which button and which half of a bar is heard now. */
function mark() {
  byId("stop-sound").disabled = !player.isPlaying;
  const { button = null, pair = null, side = "" } = (player.isPlaying && playing) || {};
  for (const one of document.querySelectorAll("#hear-played, #hear-written, .listen-button")) one.setAttribute("aria-pressed", String(one === button));
  for (const one of pairs) one.removeAttribute("data-playing");
  pair?.setAttribute("data-playing", side);
}

/** Arrows go from bar to bar, Enter plays. @param {KeyboardEvent} event @param {HTMLButtonElement} pair */
function onKey(event, pair) {
  if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
  const direction = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
  if (!direction && event.key !== "Enter") return;
  event.preventDefault();
  const next = direction ? pairs[pairs.indexOf(pair) + direction] : pair;
  if (next) choose(next);
  if (!direction && !event.repeat && pair.dataset.played) byId("hear-played").click();
}

/** The next mistake that direction round. @param {number} direction */
function step(direction) {
  const here = selected ? pairs.indexOf(selected) : direction > 0 ? -1 : pairs.length;
  const order = direction > 0 ? wrong : [...wrong].reverse();
  const next = order.find((pair) => (pairs.indexOf(pair) - here) * direction > 0) ?? order[0];
  if (next) choose(next);
}

for (const pair of pairs) {
  pair.addEventListener("click", () => choose(pair));
  pair.addEventListener("keydown", (event) => onKey(event, pair));
}
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
