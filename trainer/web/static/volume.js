// The volume check: a calm chord as loud as every song.

import { followVolume, Player, whyNoSound } from "./player.js";

/** @param {string} id */
const at = (id) => /** @type {any} */ (document.getElementById(id));
const player = new Player(at("calm"));
followVolume(at("volume"), [player.audio]);
at("check-play").addEventListener("click", async () => {
  if (player.isPlaying) return player.stop();
  try {
    await player.play();
  } catch {
    at("check-play").insertAdjacentText("afterend", await whyNoSound(player.audio));
  }
});
for (const name of ["playing", "pause", "ended"]) {
  player.addEventListener(name, () => {
    at("check-play").textContent = player.isPlaying ? "Stop" : "Play the chord";
  });
}
