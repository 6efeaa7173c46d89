// A chart to keep: copied as text.

import { copy } from "./clipboard.js";
import { ask } from "./server.js";

const button = /** @type {HTMLElement} */ (document.getElementById("copy"));
button.addEventListener("click", async () => {
  try {
    await copy(await (await ask(button.dataset.from ?? "")).text());
  } catch (error) {
    const status = /** @type {HTMLElement} */ (document.getElementById("copy-status"));
    status.textContent = /** @type {Error} */ (error).message;
  }
});
