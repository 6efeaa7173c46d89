// The band plays a song of the songbook: the text as it is, in the chosen key, tempo and band.

import { ask } from "./server.js";
import { followVolume, Player, whyNoSound } from "./player.js";

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));

export class SongPlayer extends EventTarget {
  /** @param {(text: string, wrong?: boolean) => void} say */
  constructor(say) {
    super();
    this.say = say;
    this.player = new Player(byId("song"));
    followVolume(byId("volume"), [this.player.audio]);
    /** Counts what was asked for, so that an answer that comes late is passed over. */
    this.asked = 0;
    for (const name of ["playing", "pause", "ended"]) {
      this.player.addEventListener(name, () => this.dispatchEvent(new Event("change")));
    }
  }

  get isPlaying() {
    return this.player.isPlaying;
  }

  /** @param {string} song its uid @param {Record<string, string>} how the fields of the request */
  async play(song, how) {
    const asked = ++this.asked;
    this.player.stop();
    try {
      const body = new URLSearchParams(how);
      const sound = await (await ask(`/songbook/${song}/sound`, { method: "POST", body })).json();
      if (asked !== this.asked) return;
      if (sound.error) return this.say(`There is no sound: ${sound.error}`, true);
      this.player.load(sound.url);
      await this.player.play();
      performance.measure("first sound");
      this.say("");
    } catch (error) {
      if (/** @type {Error} */ (error).name === "AbortError") return;
      this.say(this.player.audio.error ? await whyNoSound(this.player.audio) : /** @type {Error} */ (error).message, true);
    }
  }

  stop() {
    this.asked += 1;
    this.player.stop();
  }
}

/** Connect the band's controls of a song's page.
 * @param {string} song @param {(text: string, wrong?: boolean) => void} say
 * @param {() => string | null} text what to play; null for what is saved */
export function setUpBand(song, say, text) {
  const band = new SongPlayer(say);
  /** @param {number} [first] the bar to begin with, in place of the one in the field */
  const play = (first) => {
    if (!byId("tempo").reportValidity() || !byId("from").reportValidity()) return undefined;
    /** @type {Record<string, string>} */
    const how = { key: byId("key").value, band: byId("band").value, first: String(first ?? (byId("from").value || 1)) };
    if (byId("tempo").value) how.tempo = byId("tempo").value;
    const written = text();
    if (written !== null) how.text = written;
    return band.play(song, how);
  };
  const show = () => {
    byId("play").querySelector(".what").textContent = band.isPlaying ? "Play again" : "Play";
    byId("stop").disabled = !band.isPlaying;
  };
  band.addEventListener("change", show);
  byId("play").addEventListener("click", () => play());
  byId("stop").addEventListener("click", () => band.stop());
  for (const id of ["key", "tempo", "band", "from"]) {
    byId(id).addEventListener("change", () => band.isPlaying && play());
  }
  return { play };
}
