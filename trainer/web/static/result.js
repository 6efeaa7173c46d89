// The result: step through the bars, hear each as played and as written.

import { listenToKeys } from "./keys.js";
import { ask } from "./net.js";
import { followVolume, Player, whyNoSound } from "./player.js";
import { setUpCopying } from "./copy.js";

/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));
const { attempt } = at("main").dataset;
const player = new Player(at("song"));
const pairs = /** @type {HTMLButtonElement[]} */ ([...document.querySelectorAll(".pair")]);
const wrong = pairs.filter((pair) => pair.classList.contains("wrong"));
/** @type {HTMLButtonElement | null} */
let chosen = null;
/** What is being heard. @type {{ button: HTMLElement, pair: HTMLElement | null, side: string } | null} */
let sounding = null;

followVolume(at("volume"), [player.audio]);

/** @param {HTMLElement} button that stands for it
 * @param {string} side @param {string} [stretch] first and last bar; left out: all
 * @param {string} [like] the song's bar whose section it stands in */
async function hear(button, side, stretch, like) {
  const pair = button.closest(".listen-bar") ? chosen : null;
  const [first, last] = stretch?.split(" ") ?? [];
  const bars = stretch ? `&first=${first}&last=${last}${like ? `&like=${like}` : ""}` : "";
  try {
    const sound = await (await ask(`/result/${attempt}/sound?side=${side}${bars}`)).json();
    if (sound.error) return say(`There is no sound: ${sound.error}`);
    player.load(sound.url);
    sounding = { button, pair, side };
    await player.play();
  } catch (error) {
    say(player.audio.error ? await whyNoSound(player.audio) : /** @type {Error} */ (error).message);
  }
}

/** @param {string} text */
function say(text) {
  at("chosen").textContent = text;
}

/** @param {HTMLButtonElement} pair */
function choose(pair) {
  chosen?.setAttribute("aria-pressed", "false");
  chosen = pair;
  pair.setAttribute("aria-pressed", "true");
  pair.focus();
  say(pair.querySelector(".said-pair")?.textContent ?? "");
  at("hear-played").querySelector(".what").textContent = "Hear as played";
  at("hear-written").querySelector(".what").textContent = "Hear as written";
  at("hear-played").disabled = !pair.dataset.played;
  at("hear-written").disabled = !pair.dataset.written;
}

/** Mark which button and which half of a bar is heard now. */
function mark() {
  at("quiet").disabled = !player.isPlaying;
  const { button = null, pair = null, side = "" } = (player.isPlaying && sounding) || {};
  for (const one of document.querySelectorAll("#hear-played, #hear-written, .hear")) one.setAttribute("aria-pressed", String(one === button));
  for (const one of pairs) one.removeAttribute("data-sounding");
  pair?.setAttribute("data-sounding", side);
}

/** Arrows go from bar to bar, Enter plays. @param {KeyboardEvent} event @param {HTMLButtonElement} pair */
function onKey(event, pair) {
  if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey) return;
  const way = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
  if (!way && event.key !== "Enter") return;
  event.preventDefault();
  const next = way ? pairs[pairs.indexOf(pair) + way] : pair;
  if (next) choose(next);
  if (!way && !event.repeat && pair.dataset.played) at("hear-played").click();
}

/** The next mistake that way round. @param {number} way */
function step(way) {
  const here = chosen ? pairs.indexOf(chosen) : way > 0 ? -1 : pairs.length;
  const order = way > 0 ? wrong : [...wrong].reverse();
  const next = order.find((pair) => (pairs.indexOf(pair) - here) * way > 0) ?? order[0];
  if (next) choose(next);
}

for (const pair of pairs) {
  pair.addEventListener("click", () => choose(pair));
  pair.addEventListener("keydown", (event) => onKey(event, pair));
}
at("following").addEventListener("click", () => step(1));
at("previous").addEventListener("click", () => step(-1));
at("hear-played").addEventListener("click", () => hear(at("hear-played"), "played", chosen?.dataset.played, chosen?.dataset.like));
at("hear-written").addEventListener("click", () => hear(at("hear-written"), "written", chosen?.dataset.written, chosen?.dataset.like));
at("quiet").addEventListener("click", () => player.stop());
for (const button of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll(".hear"))) {
  const { side = "", first, last, like } = button.dataset;
  button.addEventListener("click", () => hear(button, side, `${first} ${last}`, like));
}
for (const name of ["playing", "pause", "ended"]) {
  player.addEventListener(name, mark);
}
listenToKeys(() => true);
setUpCopying();
