// A shared song: read and heard.

import { setUpBand } from "./song_player.js";

const main = /** @type {HTMLElement} */ (document.getElementById("main"));
const status = /** @type {HTMLElement} */ (document.getElementById("status"));
setUpBand(main.dataset.song ?? "", (text) => (status.textContent = text), () => null).prepare();
