// Two charts side by side: each can be heard, and each bar on which they differ.

import { SongPlayer } from "./song_player.js";

const status = /** @type {HTMLElement} */ (document.getElementById("status"));
const band = new SongPlayer((text) => (status.textContent = text));
const buttons = /** @type {NodeListOf<HTMLButtonElement>} */ (document.querySelectorAll(".hear-side"));
/** @type {HTMLButtonElement | null} */
let heard = null;

function show() {
  for (const button of buttons) {
    const isHeard = button === heard && band.isPlaying;
    const what = /** @type {HTMLElement} */ (button.querySelector(".what"));
    what.dataset.text ??= what.textContent ?? "";
    what.textContent = isHeard ? "Stop" : what.dataset.text;
    button.setAttribute("aria-pressed", String(isHeard));
  }
}

band.addEventListener("change", show);
for (const button of buttons) {
  button.addEventListener("click", () => {
    if (button === heard && band.isPlaying) return band.stop();
    heard = button;
    const text = /** @type {HTMLTextAreaElement} */ (document.getElementById(button.dataset.text ?? "")).value;
    const { first, last } = button.dataset;
    band.play(button.dataset.song ?? "", first && last ? { text, first, last } : { text });
  });
}
