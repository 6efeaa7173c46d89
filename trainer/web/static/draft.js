// What is typed is kept at once in this browser and a moment later on the server.

import { recall, remember } from "./memory.js";
import { ask, line, Refused } from "./net.js";
import { Stamps } from "./stamps.js";

const PAUSE_MS = 400;
const LONGEST_MS = 2000;
// Browsers send no more than 64 KiB for a page that is going away (Fetch standard).
const MOST_KEPT_ALIVE = 60000;

export class Draft extends EventTarget {
  /** @param {DOMStringMap} page what the page says of the drill
   * @param {string} text what the server has @param {string} stamps when that was typed, as JSON */
  constructor({ exercise, learner, token = "", elapsed }, text, stamps) {
    super();
    this.url = `/write/${exercise}/draft`;
    this.place = `draft ${learner} ${exercise}`;
    const kept = read(this.place);
    const mine = kept && kept.token === token;
    this.token = token;
    this.text = kept?.unsaved ? kept.text : text;
    /** The moment of the first listen; what the server says of it holds for every device. */
    this.firstPlay = elapsed ? Date.now() - 1000 * Number(elapsed) : mine ? kept.firstPlay : null;
    this.paused = Boolean(mine && kept.paused);
    this.stamps = new Stamps(this.text, kept?.text === this.text && mine ? kept.runs : parse(stamps) ?? []);
    this.unsaved = Boolean(kept?.unsaved && kept.text !== text);
    this.over = this.refused = false;
    line.addEventListener("back", async () => {
      await this.save();
      if (!this.unsaved) this.dispatchEvent(new Event("kept"));
    });
    addEventListener("pagehide", () => this.save(true));
    if (this.unsaved) this.save();
  }

  /** Seconds since the first listen began. */
  now() {
    return this.firstPlay === null ? null : Math.round((Date.now() - this.firstPlay) / 10) / 100;
  }

  /** The first listen begins. */
  begin() {
    this.firstPlay ??= Date.now();
    this.store();
  }

  /** @param {string} text */
  update(text) {
    this.stamps.update(text, this.now());
    this.text = text;
    this.unsaved = true;
    this.store();
    clearTimeout(this.timer);
    this.since ??= Date.now();
    this.timer = setTimeout(() => this.save(), Date.now() - this.since > LONGEST_MS ? 0 : PAUSE_MS);
  }

  /** Keep it in this browser; a browser that keeps nothing leaves it to the server. */
  store() {
    const { token, text, unsaved, firstPlay, paused } = this;
    const kept = JSON.stringify({ token, text, unsaved, firstPlay, paused, runs: this.stamps.runs() });
    remember(this.place, kept);
  }

  /** Send it to the server. @param {boolean} [leaving] the page is going away */
  async save(leaving = false) {
    if (this.over || !this.unsaved) return;
    clearTimeout(this.timer);
    this.since = undefined;
    const { text, token } = this;
    const body = new URLSearchParams({ text, token, stamps: JSON.stringify(this.stamps.runs()) });
    try {
      await ask(this.url, { method: "PUT", body, keepalive: leaving && String(body).length < MOST_KEPT_ALIVE });
      if (this.text === text) this.unsaved = false;
      this.store();
      if (this.refused) this.tell("");
      this.refused = false;
    } catch (error) {
      this.refused = error instanceof Refused;
      if (error instanceof Refused) this.tell(error.message);
    }
  }

  /** It was handed in. */
  end() {
    this.over = true;
    clearTimeout(this.timer);
    remember(this.place, null);
  }

  /** @param {string} text */
  tell(text) {
    this.dispatchEvent(new CustomEvent("told", { detail: text }));
  }
}

/** @param {string} place */
function read(place) {
  return parse(recall(place));
}

/** @param {string | null} json @returns {any} null where it is none */
function parse(json) {
  try {
    return JSON.parse(json || "null");
  } catch {
    return null;
  }
}
