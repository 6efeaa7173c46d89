// What this browser remembers; where it may not remember anything, nothing is remembered.

/** @param {string} name @returns {string | null} */
export function recall(name) {
  try {
    return localStorage.getItem(name);
  } catch {
    return null;
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
