// A light that shows the beats of each bar while the band plays, and counts the bars where the
// exercise allows it. It says nothing of a bar before it has begun.

import { recall, remember } from "./storage.js";
import { ask } from "./server.js";

/** @typedef {{ beats_s: number[][], counts_bars: boolean }} Times at full speed */

const FULL_SPEED = 100;

/**
 * @param {string} exercise @param {HTMLButtonElement} toggle @param {HTMLElement} light
 * @param {import("./player.js").Player} player @param {import("./listens.js").Listens} listens
 * @param {(text: string, wrong?: boolean) => void} say
 */
export function setUpLight(exercise, toggle, light, player, listens, say) {
  /** @type {Times | null} */
  let times = null;
  let shown = "";
  const count = Object.assign(document.createElement("span"), { className: "bar-count" });
  const beats = Object.assign(document.createElement("span"), { className: "light-beats" });
  light.append(beats, count);

  const show = () => {
    if (light.hidden || !times) return;
    // The sound may be slower; its place in the song is what counts.
    const { bar, beat } = placeIn(times.beats_s, (player.audio.currentTime * listens.playing) / FULL_SPEED);
    if (shown !== `${bar} ${beat}`) draw(bar, beat);
    shown = `${bar} ${beat}`;
    if (player.isPlaying) requestAnimationFrame(show);
  };

  const draw = (/** @type {number} */ bar, /** @type {number} */ beat) => {
    const most = Math.max(beats.childElementCount, beat + 1, times?.beats_s[0].length ?? 0);
    while (beats.childElementCount < most) beats.append(document.createElement("i"));
    for (const [number, dot] of [...beats.children].entries()) dot.classList.toggle("on", number === beat);
    count.textContent = times?.counts_bars && bar >= 0 ? `bar ${bar + 1}` : "";
  };

  const turn = async (/** @type {boolean} */ on) => {
    toggle.setAttribute("aria-pressed", String(on));
    try {
      if (on) times ??= await ask(`/write/${exercise}/light`).then((answer) => answer.json());
    } catch (error) {
      toggle.setAttribute("aria-pressed", "false");
      return say(/** @type {Error} */ (error).message, true);
    }
    light.hidden = !on;
    shown = "";
    show();
  };

  toggle.addEventListener("click", () => {
    const on = toggle.getAttribute("aria-pressed") !== "true";
    remember("light", on ? "on" : "off");
    turn(on);
  });
  for (const name of ["playing", "time", "pause", "ended"]) player.addEventListener(name, show);
  if (recall("light") === "on") turn(true);
}

/** The bar and the beat of it that sound at a time, both from 0; −1 before the first bar.
 * @param {number[][]} beats when each beat of each bar begins @param {number} seconds */
export function placeIn(beats, seconds) {
  const bar = beats.findLastIndex(([start]) => start <= seconds);
  return { bar, beat: bar < 0 ? -1 : beats[bar].findLastIndex((start) => start <= seconds) };
}
