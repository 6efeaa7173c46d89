// The volume check: a calm chord as loud as every song.

import { followVolume, Player, whyNoSound } from "./player.js";

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));
const player = new Player(byId("check-chord"));
followVolume(byId("volume"), [player.audio]);
byId("play-check-chord").addEventListener("click", async () => {
  if (player.isPlaying) return player.stop();
  try {
    await player.play();
  } catch {
    byId("play-check-chord").insertAdjacentText("afterend", await whyNoSound(player.audio));
  }
});
for (const name of ["playing", "pause", "ended"]) {
  player.addEventListener(name, () => {
    byId("play-check-chord").textContent = player.isPlaying ? "Stop" : "Play the chord";
  });
}
