// How to write it: each sign on a button, and the keys, listed from the table that the pages obey.

import { setUpHearing } from "./hear_buttons.js";
import { SHORTCUTS, showKeys } from "./shortcuts.js";

const status = /** @type {HTMLElement} */ (document.getElementById("status"));
setUpHearing((text) => (status.textContent = text));

/** @param {string} name @param {string} [text] @param {Node[]} children */
function element(name, text = "", ...children) {
  const made = document.createElement(name);
  made.append(text, ...children);
  return made;
}

const keys = /** @type {HTMLElement} */ (document.getElementById("keys"));
for (const where of new Set(SHORTCUTS.map((one) => one.where))) {
  const list = element("dl");
  for (const one of SHORTCUTS.filter((each) => each.where === where)) {
    list.append(element("dt", "", element("kbd", showKeys(one.keys))), element("dd", one.does));
  }
  keys.append(element("section", "", element("h3", where), list));
}
