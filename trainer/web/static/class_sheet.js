// The class bar by bar: choose a bar, see what was written instead, play the song from it.

import { ask } from "./server.js";
import { followVolume, Player, whyNoSound } from "./player.js";

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));

const page = /** @type {HTMLElement} */ (document.querySelector("main"));
const player = new Player(byId("song"));
const boxes = [...document.querySelectorAll("a.bar-box")].map((box) => /** @type {HTMLAnchorElement} */ (box));
/** The bar to play from. */
let chosen = 1;
/** Counts what was asked for, so that a sound that comes late is passed over. */
let asked = 0;

/** @param {string} text */
const say = (text) => {
  byId("sound-status").textContent = text;
};

/** @param {number} bar */
function choose(bar) {
  chosen = bar;
  byId("from-bar").textContent = String(bar);
  for (const box of boxes) {
    if (Number(box.dataset.bar) === bar) box.setAttribute("aria-current", "true");
    else box.removeAttribute("aria-current");
  }
  for (const panel of document.querySelectorAll(".bar-panel")) {
    /** @type {HTMLElement} */ (panel).hidden = panel.id !== `bar-${bar}`;
  }
}

async function play() {
  const mine = ++asked;
  player.stop();
  say("");
  try {
    const sound = await (await ask(`${page.dataset.sound}&first=${chosen}`)).json();
    if (mine !== asked) return;
    if (sound.error) return say(`There is no sound: ${sound.error}`);
    player.load(sound.url);
    await player.play();
  } catch (error) {
    if (/** @type {Error} */ (error).name === "AbortError") return;
    say(player.audio.error ? await whyNoSound(player.audio) : /** @type {Error} */ (error).message);
  }
}

function stop() {
  asked += 1;
  player.stop();
}

for (const box of boxes) {
  box.addEventListener("click", () => choose(Number(box.dataset.bar)));
}
for (const name of ["playing", "pause", "ended"]) {
  player.addEventListener(name, () => {
    byId("stop-sound").disabled = !player.isPlaying;
  });
}
followVolume(byId("volume"), [player.audio]);
byId("play-bar").disabled = false;
byId("play-bar").addEventListener("click", play);
byId("stop-sound").addEventListener("click", stop);

const named = /^#bar-(\d+)$/.exec(location.hash);
choose(Number(named ? named[1] : page.dataset.worst));
