// When each character of the text was typed, whatever is edited in between.

/** A run: how many characters were typed, and at which second; null if nothing had been played yet.
 * @typedef {[number, number | null]} Run */

export class Stamps {
  /** @param {string} text @param {Run[]} [runs] kept from before; left out if they do not fit */
  constructor(text, runs = []) {
    this.text = text;
    /** @type {(number | null)[]} */
    this.times = runs.flatMap(([count, seconds]) => Array(count).fill(seconds));
    if (this.times.length !== text.length) this.times = Array(text.length).fill(null);
  }

  /** Take in what the text has become: what differs was typed now.
   * @param {string} text @param {number | null} seconds */
  update(text, seconds) {
    const old = this.text;
    const shorter = Math.min(old.length, text.length);
    let head = 0;
    while (head < shorter && old[head] === text[head]) head += 1;
    let tail = 0;
    while (tail < shorter - head && old.at(-1 - tail) === text.at(-1 - tail)) tail += 1;
    const fresh = Array(text.length - head - tail).fill(seconds);
    this.times = [...this.times.slice(0, head), ...fresh, ...this.times.slice(old.length - tail)];
    this.text = text;
  }

  /** @returns {Run[]} */
  runs() {
    /** @type {Run[]} */
    const runs = [];
    for (const time of this.times) {
      const last = runs.at(-1);
      if (last && last[1] === time) last[0] += 1;
      else runs.push([1, time]);
    }
    return runs;
  }
}
