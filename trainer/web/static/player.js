// One song in an audio element: from the top, paused, stopped, looped between two times.

import { recall, remember } from "./storage.js";
import { ask, Refused } from "./server.js";

const AHEAD_MS = 20;

export class Player extends EventTarget {
  /** @param {HTMLAudioElement} audio */
  constructor(audio) {
    super();
    this.audio = audio;
    /** Start and end in seconds, end null while it is being set. @type {[number, number | null] | null} */
    this.loop = null;
    this.url = audio.getAttribute("src") ?? "";
    /** Whether it plays on when the sound that is being loaded is there. */
    this.goesOn = false;
    for (const name of ["playing", "pause", "ended", "error", "loadedmetadata"]) {
      audio.addEventListener(name, () => this.tell(name));
    }
    audio.addEventListener("timeupdate", () => this.tell("time"));
  }

  get isPlaying() {
    return !this.audio.paused && !this.audio.ended;
  }

  /** Whether it stands somewhere in the middle. */
  get isOnTheWay() {
    return this.audio.currentTime > 0 && !this.audio.ended;
  }

  /** Another sound. @param {string} url */
  load(url) {
    this.loop = null;
    this.url = url;
    this.audio.src = url;
    this.audio.load();
    this.tell("time");
  }

  /** The same song as another sound, from a place in it on; it goes on playing if it was.
   * @param {string} url @param {number} seconds @param {number} stretch how many times as long it is */
  async change(url, seconds, stretch) {
    const goesOn = this.isPlaying || this.goesOn;
    this.goesOn = goesOn;
    const loop = this.loop;
    this.load(url);
    if (loop) this.loop = [loop[0] * stretch, loop[1] && loop[1] * stretch];
    await new Promise((ready) => this.audio.addEventListener("loadedmetadata", ready, { once: true }));
    if (this.url !== url) return;
    this.seek(seconds);
    this.goesOn = false;
    if (goesOn) await this.play();
  }

  /** Play from where it stands. Rejects where the browser cannot. */
  async play() {
    if (this.audio.error) this.audio.load();
    await this.audio.play();
    this.watch();
  }

  pause() {
    this.audio.pause();
  }

  stop() {
    this.audio.pause();
    this.seek(0);
  }

  /** @param {number} seconds */
  seek(seconds) {
    if (this.audio.readyState > 0) this.audio.currentTime = Math.max(0, seconds);
    this.tell("time");
  }

  /** Keep within the loop while it plays. */
  watch() {
    if (!this.isPlaying) return;
    const [start, end] = this.loop ?? [0, null];
    if (end !== null && (this.audio.currentTime >= end || this.audio.currentTime < start)) this.seek(start);
    setTimeout(() => this.watch(), AHEAD_MS);
  }

  /** @param {string} what */
  tell(what) {
    this.dispatchEvent(new Event(what));
  }
}

/** Why an audio element has no sound, in words. @param {HTMLAudioElement} audio */
export async function whyNoSound(audio) {
  try {
    await ask(audio.currentSrc || audio.src, { headers: { Range: "bytes=0-0" } });
    return "Your browser couldn't play the sound.";
  } catch (error) {
    if (error instanceof Refused) return `There is no sound: ${error.message}`;
    return "There's no sound because the server isn't answering.";
  }
}

/** Make a slider set the volume of audio elements, the same on every page.
 * @param {HTMLInputElement} slider @param {HTMLAudioElement[]} audios */
export function followVolume(slider, audios) {
  const kept = recall("volume");
  if (kept !== null) slider.value = kept;
  const set = () => {
    // Ears hear loudness by ratios: the square makes the slider's steps even.
    for (const audio of audios) audio.volume = (slider.valueAsNumber / 100) ** 2;
    remember("volume", slider.value);
  };
  slider.addEventListener("input", set);
  set();
}

/** @param {number} seconds */
export function clock(seconds) {
  const whole = Math.floor(seconds);
  return `${Math.floor(whole / 60)}:${String(whole % 60).padStart(2, "0")}`;
}
