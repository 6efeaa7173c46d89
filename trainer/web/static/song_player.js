// The band plays a song of the songbook: the text as it is, in the chosen key, tempo and band. It gets
// ready before Play is pressed, so that a long song begins at once, too.

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
    /** What the band is ready for, or getting ready for. @type {{ key: string, sound: Promise<any> } | null} */
    this.ready = null;
    /** What it gets ready for next. @type {[string, Record<string, string>] | null} */
    this.next = null;
    this.isPreparing = false;
    for (const name of ["playing", "pause", "ended"]) {
      this.player.addEventListener(name, () => this.dispatchEvent(new Event("change")));
    }
  }

  get isPlaying() {
    return this.player.isPlaying;
  }

  /** Have the band get ready for what may be played: one song after another, and of what is asked
   * meanwhile only the last. @param {string} song its uid @param {Record<string, string>} how */
  async prepare(song, how) {
    this.next = [song, how];
    if (this.isPreparing) return;
    this.isPreparing = true;
    while (this.next) {
      const key = JSON.stringify(this.next);
      const sound = soundOf(this.next[0], { ...this.next[1], ahead: "true" }).catch(() => null);
      this.ready = { key, sound };
      this.next = null;
      await sound;
    }
    this.isPreparing = false;
  }

  /** @param {string} song its uid @param {Record<string, string>} how the fields of the request */
  async play(song, how) {
    const asked = ++this.asked;
    this.player.stop();
    try {
      const ready = this.ready?.key === JSON.stringify([song, how]) ? await this.ready.sound : null;
      if (asked !== this.asked) return;
      // A server that has let go of what was ready is asked again.
      if (ready && !ready.error && (await this.begin(ready.url).catch(() => asked !== this.asked))) return;
      const sound = await soundOf(song, how);
      if (asked !== this.asked) return;
      if (sound.error) return this.say(`There is no sound: ${sound.error}`, true);
      await this.begin(sound.url);
    } catch (error) {
      if (/** @type {Error} */ (error).name === "AbortError") return;
      this.say(this.player.audio.error ? await whyNoSound(this.player.audio) : /** @type {Error} */ (error).message, true);
    }
  }

  /** Play a sound; true once it is heard. @param {string} url */
  async begin(url) {
    this.player.load(url);
    await this.player.play();
    this.say("");
    return true;
  }

  stop() {
    this.asked += 1;
    this.player.stop();
  }
}

/** @param {string} song its uid @param {Record<string, string>} how the fields of the request */
async function soundOf(song, how) {
  return (await ask(`/songbook/${song}/sound`, { method: "POST", body: new URLSearchParams(how) })).json();
}

/** Connect the band's controls of a song's page.
 * @param {string} song @param {(text: string, wrong?: boolean) => void} say
 * @param {() => string | null} text what to play; null for what is saved */
export function setUpBand(song, say, text) {
  const band = new SongPlayer(say);
  const fields = [byId("tempo"), byId("from")];
  /** What the controls say. @param {number} [first] the bar to begin with, in place of the one in the
   * field */
  const chosen = (first) => {
    /** @type {Record<string, string>} */
    const how = { key: byId("key").value, band: byId("band").value, first: String(first ?? (byId("from").value || 1)) };
    if (byId("tempo").value) how.tempo = byId("tempo").value;
    const written = text();
    if (written !== null) how.text = written;
    return how;
  };
  /** @param {number} [first] */
  const play = (first) => (fields.every((each) => each.reportValidity()) ? band.play(song, chosen(first)) : undefined);
  const prepare = () => {
    if (fields.every((each) => each.checkValidity())) band.prepare(song, chosen());
  };
  const show = () => {
    byId("play").querySelector(".what").textContent = band.isPlaying ? "Play again" : "Play";
    byId("stop").disabled = !band.isPlaying;
  };
  band.addEventListener("change", show);
  byId("play").addEventListener("click", () => play());
  byId("stop").addEventListener("click", () => band.stop());
  for (const id of ["key", "tempo", "band", "from"]) {
    byId(id).addEventListener("change", () => (band.isPlaying ? play() : prepare()));
  }
  return { play, prepare };
}
