// A lesson: each of its sounds by name.

import { setUpHearing } from "./hear_buttons.js";

const status = /** @type {HTMLElement} */ (document.getElementById("status"));
setUpHearing((text) => (status.textContent = text));
