// The answers to a bar for the room's screen.

import { showAnswers } from "./bar_answers.js";
import { Refused, Unreachable } from "./server.js";

const EVERY_MS = 1000;

/** @param {string} id */
const byId = (id) => /** @type {any} */ (document.getElementById(id));
const { place = "", bars } = byId("main").dataset;
const named = Number(new URLSearchParams(location.search).get("bar"));
let bar = 1;

/** @param {number} wanted */
function choose(wanted) {
  bar = Math.min(Math.max(wanted, 1), Number(bars));
  byId("shown-bar").textContent = String(bar);
  byId("before").disabled = bar === 1;
  byId("next").disabled = bar === Number(bars);
}

async function show() {
  try {
    await showAnswers(byId("answers"), place, bar);
  } catch (error) {
    if (!(error instanceof Refused || error instanceof Unreachable)) throw error;
  }
}

async function follow() {
  await show();
  setTimeout(follow, EVERY_MS);
}

byId("before").addEventListener("click", () => (choose(bar - 1), show()));
byId("next").addEventListener("click", () => (choose(bar + 1), show()));
choose(named || 1);
follow();
