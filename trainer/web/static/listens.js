// The listens of a drill: counted by the server, which also keeps how far the present one has got.

import { ask, Refused } from "./server.js";

const REPORT_MS = 3000;

export class Listens extends EventTarget {
  /** @param {DOMStringMap} page what the page says of the drill
   * @param {import("./player.js").Player} player */
  constructor(page, player) {
    super();
    this.player = player;
    this.url = `/write/${page.exercise}`;
    this.token = page.token ?? "";
    /** How many may still begin, null for any number. @type {number | null} */
    this.left = page.listensLeft === "" ? null : Number(page.listensLeft);
    /** Per cent of the tempo: of the present listen, and as the band plays now. */
    this.speed = this.playing = Number(page.speed);
    /** Where a listen that was interrupted goes on, null without one. @type {number | null} */
    this.goesOnAt = null;
    this.over = false;
    /** The request sent last: they reach the server one after another. @type {Promise<unknown>} */
    this.last = Promise.resolve();
    if (page.position) this.interrupt(Number(page.position));
    player.addEventListener("playing", () => this.watch());
    player.addEventListener("pause", () => player.audio.ended || this.report(true));
    player.addEventListener("ended", () => this.send({}));
    addEventListener("pagehide", () => {
      // A page that goes away waits for nothing.
      this.last = Promise.resolve();
      if (player.isPlaying) this.report(true);
    });
  }

  /** Count a listen that begins now. Throws as `ask` does; the error's data says what is left. */
  async begin() {
    this.speed = this.playing;
    const answer = await this.post("listen", { speed: String(this.speed) });
    this.left = (await answer.json()).listens_left;
  }

  /** The band goes on at another speed: the listen under way counts as one at its slowest.
   * @param {number} speed */
  async changeSpeed(speed) {
    const answer = await this.post("speed", { speed: String(speed) });
    this.speed = (await answer.json()).speed;
  }

  /** The interrupted listen goes on, which counts as a pause. */
  goOn() {
    this.goesOnAt = null;
    this.report(true);
  }

  /** Tell the server how far the listen has got. @param {boolean} [paused] the band was stopped */
  report(paused = false) {
    // A place in a listen is in seconds at the speed at which it began.
    const seconds = (this.player.audio.currentTime * this.playing) / this.speed;
    return this.send({ position_s: seconds.toFixed(2), paused: String(paused) });
  }

  /** The listen under way ends where it is. */
  giveUp() {
    this.goesOnAt = null;
    this.send({ paused: "true" });
  }

  /** It was handed in: there is nothing more to tell. */
  end() {
    this.over = true;
  }

  /** @param {Record<string, string>} fields without a position the listen has ended */
  async send(fields) {
    if (this.over) return;
    try {
      await this.post("heard", fields);
    } catch (error) {
      // A server that does not answer is announced by `connection`.
      if (error instanceof Refused) this.dispatchEvent(new CustomEvent("message", { detail: error.message }));
    }
  }

  /** @param {string} what @param {Record<string, string>} fields */
  post(what, fields) {
    const query = new URLSearchParams({ token: this.token, ...fields });
    const send = () => ask(`${this.url}/${what}?${query}`, { method: "POST", keepalive: true });
    const answer = this.last.then(send);
    this.last = answer.catch(() => null);
    return answer;
  }

  /** Report now and then while the band plays. */
  watch() {
    clearInterval(this.timer);
    this.timer = setInterval(() => {
      if (this.player.isPlaying) this.report();
      else clearInterval(this.timer);
    }, REPORT_MS);
  }

  /** The listen under way goes on later from a place in seconds. @param {number} seconds */
  interrupt(seconds) {
    this.goesOnAt = seconds;
    const { audio } = this.player;
    if (audio.readyState > 0) this.player.seek(seconds);
    else audio.addEventListener("loadedmetadata", () => this.player.seek(seconds), { once: true });
  }
}
