// Copying a chart's text.

/** Let buttons with data-copy copy the field of that id. */
export function setUpCopying() {
  for (const button of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-copy]"))) {
    button.addEventListener("click", () => {
      const field = /** @type {HTMLTextAreaElement} */ (document.getElementById(button.dataset.copy ?? ""));
      copy(field.value);
    });
  }
}

/** Put a text on the clipboard and say so. @param {string} text */
export async function copy(text) {
  const status = /** @type {HTMLElement} */ (document.getElementById("copy-status"));
  try {
    await navigator.clipboard.writeText(text);
    status.textContent = "Copied.";
  } catch {
    status.textContent = "Your browser didn't copy it. Select the text and copy it yourself.";
  }
}
