// Slower and faster at the same pitch, also while the band plays: it goes on at the same place.

import { ask } from "./server.js";

export class SongSpeed {
  /** @param {string} exercise @param {number[]} speeds in per cent of the tempo, the fastest first
   * @param {import("./player.js").Player} player @param {import("./listens.js").Listens} listens */
  constructor(exercise, speeds, player, listens) {
    this.exercise = exercise;
    this.speeds = speeds;
    this.player = player;
    this.listens = listens;
    /** The speed that was asked for last; that of the sound which is loaded is `listens.playing`. */
    this.wanted = listens.playing;
    /** Where in the song the sound that is being loaded goes on: seconds times per cent of the tempo,
     * 0 at its start. */
    this.place = 0;
  }

  get canSlow() {
    return this.wanted !== this.speeds.at(-1);
  }

  get canQuicken() {
    return this.wanted !== this.speeds[0];
  }

  /** The sound at another speed is being loaded in the middle of the song. */
  get isChanging() {
    return this.place > 0;
  }

  /** So many steps slower, or faster where it is less than 0. Returns the speed, null where another
   * was chosen meanwhile. Throws as `ask` does; the speed is then as it was.
   * @param {number} steps @param {boolean} underWay a listen has begun and not ended */
  async change(steps, underWay) {
    const { listens, player } = this;
    const wanted = this.speeds[this.speeds.indexOf(this.wanted) + steps];
    if (wanted === undefined) return null;
    this.wanted = wanted;
    try {
      const sound = await (await ask(`/write/${this.exercise}/sound?speed=${wanted}`)).json();
      if (this.wanted !== wanted) return null;
      if (underWay) await listens.changeSpeed(wanted);
      if (this.wanted !== wanted) return null;
      const before = listens.playing;
      this.place ||= player.audio.currentTime * before;
      listens.playing = wanted;
      await player.change(sound.url, this.place / wanted, before / wanted);
      if (this.wanted !== wanted) return null;
      this.place = 0;
      return wanted;
    } catch (error) {
      if (this.wanted === wanted) this.wanted = listens.playing;
      throw error;
    }
  }
}
