// A chart to keep: print it, copy it.

import { copy } from "./copy.js";
import { ask } from "./net.js";

const button = /** @type {HTMLElement} */ (document.getElementById("copy"));
document.getElementById("print")?.addEventListener("click", () => print());
button.addEventListener("click", async () => {
  try {
    await copy(await (await ask(button.dataset.from ?? "")).text());
  } catch (error) {
    const told = /** @type {HTMLElement} */ (document.getElementById("copied"));
    told.textContent = /** @type {Error} */ (error).message;
  }
});
