// Buttons that play a sound each: the one that is heard stops when it is pressed again.

import { ask } from "./server.js";
import { followVolume, Player, whyNoSound } from "./player.js";

/**
 * Let every button of the class "hear" play what its address gives, now and later on the page.
 * @param {(text: string) => void} say shows why there is no sound, "" when there is
 */
export function setUpHearing(say) {
  const player = new Player(/** @type {HTMLAudioElement} */ (document.getElementById("song")));
  followVolume(/** @type {HTMLInputElement} */ (document.getElementById("volume")), [player.audio]);
  /** @type {HTMLButtonElement | null} */
  let heard = null;

  /** Mark the button whose sound is heard. */
  function mark() {
    for (const button of /** @type {NodeListOf<HTMLButtonElement>} */ (document.querySelectorAll(".hear"))) {
      const isHeard = button === heard && player.isPlaying;
      button.setAttribute("aria-pressed", String(isHeard));
      const what = /** @type {HTMLElement} */ (button.querySelector(".what"));
      what.dataset.text ??= what.textContent ?? "";
      what.textContent = isHeard ? "Stop" : what.dataset.text;
    }
  }

  /** @param {HTMLButtonElement} button */
  async function hear(button) {
    if (button === heard && player.isPlaying) return player.stop();
    player.stop();
    heard = button;
    try {
      const sound = await (await ask(button.dataset.sound ?? "")).json();
      // Another one was pressed meanwhile, or the page has gone on.
      if (heard !== button || !button.isConnected) return;
      if (sound.error) return say(`There is no sound: ${sound.error}`);
      player.load(sound.url);
      await player.play();
      say("");
    } catch (error) {
      if (/** @type {Error} */ (error).name === "AbortError") return;
      say(player.audio.error ? await whyNoSound(player.audio) : /** @type {Error} */ (error).message);
    }
  }

  for (const name of ["playing", "pause", "ended"]) player.addEventListener(name, mark);
  document.addEventListener("click", (event) => {
    const button = /** @type {HTMLElement} */ (event.target).closest(".hear");
    if (button) hear(/** @type {HTMLButtonElement} */ (button));
  });
  const early = /** @type {any} */ (window).pressedEarly;
  if (early?.isConnected) hear(early);
  return { stop: () => player.stop(), hear };
}
