// What is typed is stored at once in this browser and a moment later on the server.

import { draftKey, recall, remember } from "./storage.js";
import { ask, connection, Refused } from "./server.js";
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
    this.storageKey = draftKey(learner, exercise);
    const stored = read(this.storageKey);
    const isThisDrill = stored && stored.token === token;
    this.token = token;
    this.text = stored?.unsaved ? stored.text : text;
    /** The moment of the first listen; what the server says of it holds for every device. */
    this.firstPlay = elapsed ? Date.now() - 1000 * Number(elapsed) : isThisDrill ? stored.firstPlay : null;
    this.paused = Boolean(isThisDrill && stored.paused);
    this.stamps = new Stamps(this.text, stored?.text === this.text && isThisDrill ? stored.runs : parse(stamps) ?? []);
    this.unsaved = Boolean(stored?.unsaved && stored.text !== text);
    this.ended = this.refused = false;
    connection.addEventListener("restored", async () => {
      await this.save();
      if (!this.unsaved) this.dispatchEvent(new Event("saved"));
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
    this.keepHere();
  }

  /** @param {string} text */
  update(text) {
    this.stamps.update(text, this.now());
    this.text = text;
    this.unsaved = true;
    this.keepHere();
    clearTimeout(this.timer);
    this.since ??= Date.now();
    this.timer = setTimeout(() => this.save(), Date.now() - this.since > LONGEST_MS ? 0 : PAUSE_MS);
  }

  /** Keep it in this browser; a browser that keeps nothing leaves it to the server. */
  keepHere() {
    const { token, text, unsaved, firstPlay, paused } = this;
    const stored = JSON.stringify({ token, text, unsaved, firstPlay, paused, runs: this.stamps.runs() });
    remember(this.storageKey, stored);
  }

  /** Send it to the server. @param {boolean} [leaving] the page is going away */
  async save(leaving = false) {
    if (this.ended || !this.unsaved) return;
    clearTimeout(this.timer);
    this.since = undefined;
    const { text, token } = this;
    const body = new URLSearchParams({ text, token, stamps: JSON.stringify(this.stamps.runs()) });
    try {
      await ask(this.url, { method: "PUT", body, keepalive: leaving && String(body).length < MOST_KEPT_ALIVE });
      if (this.text === text) this.unsaved = false;
      this.keepHere();
      if (this.refused) this.announce("");
      this.refused = false;
    } catch (error) {
      this.refused = error instanceof Refused;
      if (error instanceof Refused) this.announce(error.message);
    }
  }

  /** It was handed in. */
  end() {
    this.ended = true;
    clearTimeout(this.timer);
    remember(this.storageKey, null);
  }

  /** @param {string} text */
  announce(text) {
    this.dispatchEvent(new CustomEvent("message", { detail: text }));
  }
}

/** @param {string} storageKey */
function read(storageKey) {
  return parse(recall(storageKey));
}

/** @param {string | null} json @returns {any} null where it is none */
function parse(json) {
  try {
    return JSON.parse(json || "null");
  } catch {
    return null;
  }
}
