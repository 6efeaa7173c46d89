// What is typed at a song is kept at once in this browser and a moment later on the server, until it
// is saved as a version.

import { ask, connection, Refused } from "./server.js";
import { draftKey, recall, remember } from "./storage.js";

const PAUSE_MS = 600;
const LONGEST_MS = 3000;
// Browsers send no more than 64 KiB for a page that is going away (Fetch standard).
const MOST_KEPT_ALIVE = 60000;

export class SongDraft extends EventTarget {
  /** @param {DOMStringMap} page what the page says of the song @param {string} text what the server has */
  constructor({ song, learner, beganFrom, draftAt = "" }, text) {
    super();
    this.url = `/songbook/${song}/draft`;
    this.storageKey = draftKey(learner, `song ${song}`);
    this.beganFrom = Number(beganFrom);
    this.draftAt = draftAt;
    const unsent = recall(this.storageKey);
    this.text = unsent ?? text;
    this.isUnsent = unsent !== null && unsent !== text;
    /** Requests go one after another: each needs what the one before was told. @type {Promise<void>} */
    this.last = Promise.resolve();
    connection.addEventListener("restored", () => this.send());
    addEventListener("pagehide", () => this.isUnsent && this.put(true));
    if (this.isUnsent) this.send();
  }

  /** @param {string} text */
  update(text) {
    this.text = text;
    this.isUnsent = true;
    remember(this.storageKey, text);
    clearTimeout(this.timer);
    this.since ??= Date.now();
    this.timer = setTimeout(() => this.send(), Date.now() - this.since > LONGEST_MS ? 0 : PAUSE_MS);
  }

  send() {
    clearTimeout(this.timer);
    this.since = undefined;
    this.last = this.last.then(() => (this.isUnsent ? this.put() : undefined));
    return this.last;
  }

  /** @param {boolean} [leaving] the page is going away */
  async put(leaving = false) {
    const { text } = this;
    const body = new URLSearchParams({ text, began_from: String(this.beganFrom) });
    if (this.draftAt) body.set("replaces", this.draftAt);
    try {
      const answer = await ask(this.url, { method: "PUT", body, keepalive: leaving && String(body).length < MOST_KEPT_ALIVE });
      this.draftAt = (await answer.json()).draft_at;
      if (this.text === text) this.forget();
    } catch (error) {
      if (error instanceof Refused) this.dispatchEvent(new CustomEvent("message", { detail: error.message }));
    }
  }

  forget() {
    this.isUnsent = false;
    remember(this.storageKey, null);
  }

  /** A text was saved as a version. @param {string} text @param {number} number */
  saved(text, number) {
    this.beganFrom = number;
    this.draftAt = "";
    if (this.text === text) this.forget();
  }
}
