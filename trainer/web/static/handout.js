// A chart to keep: print it, copy it.

import { copy } from "./clipboard.js";
import { ask } from "./server.js";

const button = /** @type {HTMLElement} */ (document.getElementById("copy"));
document.getElementById("print")?.addEventListener("click", () => print());
button.addEventListener("click", async () => {
  try {
    await copy(await (await ask(button.dataset.from ?? "")).text());
  } catch (error) {
    const status = /** @type {HTMLElement} */ (document.getElementById("copy-status"));
    status.textContent = /** @type {Error} */ (error).message;
  }
});
