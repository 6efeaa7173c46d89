// What this browser remembers; where it may not remember anything, nothing is remembered.

/** @param {string} name @returns {string | null} */
export function recall(name) {
  try {
    return localStorage.getItem(name);
  } catch {
    return null;
  }
}

/**
 * Under what name the draft of a learner at an exercise is kept.
 * @param {string} [learner] @param {string} [exercise] left out: how the names of all drafts of the learner begin
 */
export const draftKey = (learner, exercise = "") => `draft ${learner} ${exercise}`;

/** Forget everything whose name begins so. @param {string} beginning */
export function forgetAll(beginning) {
  try {
    for (const name of Object.keys(localStorage)) if (name.startsWith(beginning)) localStorage.removeItem(name);
  } catch {
    // A browser that may remember nothing has nothing to forget.
  }
}

/** @param {string} name @param {string | null} text null to forget @returns {boolean} whether it was kept */
export function remember(name, text) {
  try {
    if (text === null) localStorage.removeItem(name);
    else localStorage.setItem(name, text);
    return true;
  } catch {
    return false;
  }
}
