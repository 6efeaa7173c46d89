// The keys that do something, in one list: pages act on it, say it, and may show it.

/** A key or keys pressed together, as `aria-keyshortcuts` names them, and what they do where.
 * @typedef {{ keys: string, does: string, where: string }} Shortcut */

/** Where a key works. */
export const WHERE = { page: "While writing, anywhere", text: "In the text", sheet: "On a bar of the sheet", result: "On a result" };

/** @type {Shortcut[]} */
export const SHORTCUTS = [
  { keys: "Alt+P", does: "Play, pause, continue", where: WHERE.page },
  { keys: "Alt+R", does: "Stop the band", where: WHERE.page },
  { keys: "Alt+J", does: "Go back 5 seconds", where: WHERE.page },
  { keys: "Alt+O", does: "Hear the 1", where: WHERE.page },
  { keys: "Alt+,", does: "Slower, at the same pitch", where: WHERE.page },
  { keys: "Alt+.", does: "Faster, at the same pitch", where: WHERE.page },
  { keys: "Alt+K", does: "Show the beats with a light, if the exercise has one", where: WHERE.page },
  { keys: "Alt+L", does: "Loop from here, loop to here, loop off", where: WHERE.page },
  { keys: "Alt+1", does: "Give the first answer to the last question before the cursor; Alt 2 gives the second", where: WHERE.page },
  { keys: "Control+Enter", does: "Hand in", where: WHERE.page },
  { keys: "Alt+H", does: "Play from the cursor, in the songbook", where: WHERE.page },
  { keys: "Control+S", does: "Save, in the songbook", where: WHERE.page },
  { keys: "Control+Z", does: "Undo, wherever you made the change", where: WHERE.page },
  { keys: "Control+Shift+Z", does: "Redo", where: WHERE.page },
  { keys: "=", does: "The line above, or the rest of it", where: WHERE.text },
  { keys: "&", does: "The last section of that name", where: WHERE.text },
  { keys: "?", does: "Don’t know yet: a gap", where: WHERE.text },
  { keys: "!", does: "Next gap", where: WHERE.text },
  { keys: "ArrowRight", does: "Next bar; the other arrows work the same way", where: WHERE.sheet },
  { keys: "Enter", does: "Edit the bar; press again when done", where: WHERE.sheet },
  { keys: "+", does: "Add a bar after this one", where: WHERE.sheet },
  { keys: ".", does: "End the phrase here, or let it continue", where: WHERE.sheet },
  { keys: "Delete", does: "Remove the bar", where: WHERE.sheet },
  { keys: "Escape", does: "Undo the edit; press again to go back to the text", where: WHERE.sheet },
  { keys: "Alt+P", does: "Hear what was played", where: WHERE.result },
  { keys: "Alt+W", does: "Hear what you wrote", where: WHERE.result },
  { keys: "Alt+R", does: "Stop", where: WHERE.result },
  { keys: "Alt+.", does: "Next mistake", where: WHERE.result },
  { keys: "Alt+,", does: "Previous mistake", where: WHERE.result },
  { keys: "ArrowRight", does: "Next bar; the left arrow goes back", where: WHERE.result },
  { keys: "Enter", does: "Hear the bar", where: WHERE.result },
];

const isMac = /Mac|iPhone|iPad/.test(navigator.platform);

/** Keys as a keyboard has them written on it. @param {string} keys */
export function showKeys(keys) {
  const names = /** @type {Record<string, string>} */ ({ Control: isMac ? "⌃" : "Ctrl", Alt: isMac ? "⌥" : "Alt", ArrowRight: "→", Delete: "Del", Escape: "Esc" });
  return keys.split(/\+(?=.)/).map((key) => names[key] ?? key).join(" ");
}

/** Let keys press the buttons that have them as their shortcuts, while `enabled` says so.
 * @param {() => boolean} enabled */
export function listenToKeys(enabled) {
  if (isMac) {
    for (const kbd of document.querySelectorAll("kbd")) kbd.textContent = kbd.textContent.replace("Alt", "⌥").replace("Ctrl", "⌃");
  }
  addEventListener("keydown", (event) => {
    if (event.metaKey || event.isComposing || !enabled()) return;
    const button = buttonFor(pressed(event));
    if (!button) return;
    event.preventDefault();
    if (!event.repeat && !button.disabled && !button.closest("[hidden]")) button.click();
  });
}

/** Let signs that mean nothing in a chart do something where they are typed.
 * @param {HTMLTextAreaElement} area @param {() => boolean} enabled
 * @param {(keys: string) => boolean} act whether the sign did something, else it is typed */
export function listenToSigns(area, enabled, act) {
  const signs = SHORTCUTS.filter((one) => one.where === WHERE.text).map((one) => one.keys);
  area.addEventListener("beforeinput", (event) => {
    const { data, inputType, isComposing } = event;
    if (inputType !== "insertText" || isComposing || !data || !signs.includes(data) || !enabled()) return;
    if (act(data)) event.preventDefault();
  });
}

/** @param {string} keys @returns {HTMLButtonElement | null} */
function buttonFor(keys) {
  return keys ? document.querySelector(`[aria-keyshortcuts~="${CSS.escape(keys)}"]`) : null;
}

/** @param {KeyboardEvent} event */
function pressed(event) {
  if (event.ctrlKey && !event.altKey && event.key === "Enter") return "Control+Enter";
  if (event.ctrlKey && !event.altKey && !event.shiftKey && event.key.toLowerCase() === "s") return "Control+S";
  if (!event.altKey || event.ctrlKey || event.shiftKey) return "";
  // With Alt some keyboards type other signs: then the place of the key counts.
  const typed = /^[a-z0-9,.]$/i.test(event.key) ? event.key : fromCode(event.code);
  return typed ? `Alt+${typed.toUpperCase()}` : "";
}

/** @param {string} code */
function fromCode(code) {
  if (code === "Comma") return ",";
  if (code === "Period") return ".";
  return /^(Key[A-Z]|Digit\d)$/.test(code) ? code.slice(-1) : "";
}
