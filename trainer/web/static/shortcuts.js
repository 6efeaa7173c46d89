// Shortcuts with a modifier, written on the buttons they press.

const isMac = /Mac|iPhone|iPad/.test(navigator.platform);

/**
 * Let each button's own shortcut press it, while `enabled` says so.
 * @param {() => boolean} enabled
 */
export function listenToKeys(enabled) {
  if (isMac) {
    for (const kbd of document.querySelectorAll("kbd")) kbd.textContent = kbd.textContent.replace("Alt", "⌥").replace("Ctrl", "⌃");
  }
  addEventListener("keydown", (event) => {
    if (event.metaKey || event.isComposing || !enabled()) return;
    const name = shortcut(event);
    if (!name) return;
    const button = /** @type {HTMLButtonElement | null} */ (document.querySelector(`[aria-keyshortcuts="${name}"]`));
    if (!button) return;
    event.preventDefault();
    if (!event.repeat && !button.disabled && !button.closest("[hidden]")) button.click();
  });
}

/** @param {KeyboardEvent} event */
function shortcut(event) {
  if (event.ctrlKey && !event.altKey && event.key === "Enter") return "Control+Enter";
  if (!event.altKey || event.ctrlKey || event.shiftKey) return "";
  // With Alt some keyboards type other signs: then the place of the key counts.
  const typed = /^[a-z,.]$/i.test(event.key) ? event.key : fromCode(event.code);
  return typed ? `Alt+${typed.toUpperCase()}` : "";
}

/** @param {string} code */
function fromCode(code) {
  if (code === "Comma") return ",";
  if (code === "Period") return ".";
  return /^Key[A-Z]$/.test(code) ? code.slice(3) : "";
}
