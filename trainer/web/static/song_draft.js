// What is typed at a song is kept at once in this browser and a moment later on the server, until it
// is saved as a version. This browser also keeps which draft of the server the text was written over,
// so that a text that is sent late never takes the place of what another device wrote meanwhile.

import { ask, connection, Refused } from "./server.js";
import { draftKey, recall, remember } from "./storage.js";

const PAUSE_MS = 600;
const LONGEST_MS = 3000;
// Browsers send no more than 64 KiB for a page that is going away (Fetch standard).
const MOST_KEPT_ALIVE = 60000;

/**
 * A text that was not sent, with the version and the draft it was written over.
 * @param {string} key @returns {{text: string, beganFrom: number, draftAt: string} | null}
 */
function recallUnsent(key) {
  const kept = recall(key);
  if (kept === null) return null;
  try {
    const { text, beganFrom, draftAt } = JSON.parse(kept);
    if (typeof text === "string") return { text, beganFrom: Number(beganFrom), draftAt: String(draftAt) };
  } catch {
    // An older page kept the bare text.
  }
  return { text: kept, beganFrom: 1, draftAt: "" };
}

export class SongDraft extends EventTarget {
  /** @param {DOMStringMap} page what the page says of the song @param {string} text what the server has */
  constructor({ song, learner, beganFrom, draftAt = "" }, text) {
    super();
    this.url = `/songbook/${song}/draft`;
    this.storageKey = draftKey(learner, `song ${song}`);
    const unsent = recallUnsent(this.storageKey);
    this.isUnsent = unsent !== null && unsent.text !== text;
    const from = this.isUnsent && unsent ? unsent : { text, beganFrom: Number(beganFrom), draftAt };
    this.text = from.text;
    this.beganFrom = from.beganFrom;
    this.draftAt = from.draftAt;
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
    this.keep();
    clearTimeout(this.timer);
    this.since ??= Date.now();
    this.timer = setTimeout(() => this.send(), Date.now() - this.since > LONGEST_MS ? 0 : PAUSE_MS);
  }

  /** Keep in this browser what the server does not have yet. */
  keep() {
    remember(this.storageKey, JSON.stringify({ text: this.text, beganFrom: this.beganFrom, draftAt: this.draftAt }));
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
      const kept = await answer.json();
      this.draftAt = kept.draft_at;
      if (this.text === text) this.forget();
      else this.keep();
      if (kept.said) this.dispatchEvent(new CustomEvent("beside", { detail: kept }));
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
    else this.keep();
  }
}
