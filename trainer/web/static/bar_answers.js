// The class's answers to a bar, without names.

import { ask } from "./server.js";

/** Show what was written for a bar, and by how many; nothing while another bar's answers are asked for.
 * @param {HTMLElement} list @param {string} place of the dictation @param {number} bar */
export async function showAnswers(list, place, bar) {
  if (list.dataset.bar !== String(bar)) list.replaceChildren();
  list.dataset.bar = String(bar);
  /** @type {{ counts: [string, number][] }} */
  const { counts } = await (await ask(`${place}/answers?bar=${bar}`)).json();
  if (list.dataset.bar !== String(bar)) return;
  const items = counts.map(([text, count]) => {
    const item = document.createElement("li");
    item.append(`${count} wrote `, text ? Object.assign(document.createElement("strong"), { textContent: text }) : "nothing");
    return item;
  });
  list.replaceChildren(...items);
}
