// What was done to the text, step by step, to be undone and done again.

/** @typedef {[number, number]} Selection */
/** A text and where the caret was in it. @typedef {{ text: string, selection: Selection }} State */

// Whole texts are kept: of the longest, 20,000 characters, these are 8 MB.
const MOST_STEPS = 200;

export class History {
  /** @param {string} text */
  constructor(text) {
    /** @type {State[]} */
    this.states = [{ text, selection: [text.length, text.length] }];
    this.at = 0;
  }

  get canUndo() {
    return this.at > 0;
  }

  get canRedo() {
    return this.at < this.states.length - 1;
  }

  /** The text has become another. @param {State} state
   * @param {Selection} before where the caret was until then
   * @param {boolean} joined it goes on with the step before */
  record(state, before, joined) {
    if (joined && this.at > 0) this.at -= 1;
    else this.states[this.at].selection = before;
    this.states.splice(this.at + 1, Infinity, state);
    this.at += 1;
    if (this.states.length > MOST_STEPS + 1) {
      this.states.shift();
      this.at -= 1;
    }
  }

  /** One step back (-1) or forth (1); null where there is none. @param {-1 | 1} by @returns {State | null} */
  step(by) {
    const state = this.states[this.at + by];
    if (!state) return null;
    this.at += by;
    return state;
  }
}

/** -1 for the keys that undo, 1 for those that redo, 0 for others. @param {KeyboardEvent} event
 * @returns {-1 | 0 | 1} */
export function undoStep(event) {
  if (event.altKey || !(event.ctrlKey || event.metaKey)) return 0;
  const key = event.key.toLowerCase();
  if (key === "y" && !event.shiftKey) return 1;
  if (key !== "z") return 0;
  return event.shiftKey ? 1 : -1;
}
