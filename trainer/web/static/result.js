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

followVolume(at("volume"), [player.audio]);

/** @param {string} side @param {string} [stretch] first and last bar; left out: all
 * @param {string} [like] the song's bar whose section it stands in */
async function hear(side, stretch, like) {
  const [first, last] = stretch?.split(" ") ?? [];
  const bars = stretch ? `&first=${first}&last=${last}${like ? `&like=${like}` : ""}` : "";
  try {
    const sound = await (await ask(`/result/${attempt}/sound?side=${side}${bars}`)).json();
    if (sound.error) return say(`There is no sound: ${sound.error}`);
    player.load(sound.url);
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

/** The next mistake that way round. @param {number} way */
function step(way) {
  const here = chosen ? pairs.indexOf(chosen) : way > 0 ? -1 : pairs.length;
  const order = way > 0 ? wrong : [...wrong].reverse();
  const next = order.find((pair) => (pairs.indexOf(pair) - here) * way > 0) ?? order[0];
  if (next) choose(next);
}

for (const pair of pairs) pair.addEventListener("click", () => choose(pair));
at("following").addEventListener("click", () => step(1));
at("previous").addEventListener("click", () => step(-1));
at("hear-played").addEventListener("click", () => hear("played", chosen?.dataset.played, chosen?.dataset.like));
at("hear-written").addEventListener("click", () => hear("written", chosen?.dataset.written, chosen?.dataset.like));
at("quiet").addEventListener("click", () => player.stop());
for (const button of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll(".hear"))) {
  const { side = "", first, last, like } = button.dataset;
  button.addEventListener("click", () => hear(side, `${first} ${last}`, like));
}
for (const name of ["playing", "pause", "ended"]) {
  player.addEventListener(name, () => {
    at("quiet").disabled = !player.isPlaying;
  });
}
listenToKeys(() => true);
setUpCopying();
