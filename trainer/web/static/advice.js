// The advice beside the charts: on the bar that is chosen, or all of it.

export class AdviceList {
  /** @param {HTMLElement} list @param {HTMLElement} heading @param {HTMLElement} none said where
   * there is no advice @param {HTMLButtonElement | null} all shows all of it
   * @param {HTMLButtonElement[]} pairs the bars, each with the numbers of the advice on it */
  constructor(list, heading, none, all, pairs) {
    this.items = /** @type {HTMLElement[]} */ ([...list.children]);
    this.heading = heading;
    this.none = none;
    this.all = all;
    this.pairs = pairs;
    /** @type {HTMLButtonElement | null} */
    this.pair = null;
    this.isAll = false;
    all?.addEventListener("click", () => {
      this.isAll = !this.isAll || !this.pair;
      this.show();
    });
  }

  /** Show what there is on a bar, or all where no bar is chosen. @param {HTMLButtonElement | null} pair */
  showFor(pair) {
    this.pair = pair;
    this.isAll = false;
    this.show();
  }

  show() {
    const isAll = this.isAll || !this.pair;
    const numbers = new Set(isAll ? this.items.keys() : numbersOf(this.pair));
    for (const [number, item] of this.items.entries()) item.hidden = !numbers.has(number);
    this.all?.setAttribute("aria-pressed", String(isAll));
    if (this.items.length) this.heading.textContent = isAll ? "What to listen for, most important first" : "What to listen for here";
    this.none.hidden = numbers.size > 0;
    this.none.textContent = this.pair?.classList.contains("right") ? "This bar is right." : "There's no advice for this bar. Listen to both.";
    for (const one of this.pairs) one.classList.toggle("cited", !isAll && numbersOf(one).some((number) => numbers.has(number)));
  }
}

/** @param {HTMLElement | null} pair @returns {number[]} */
function numbersOf(pair) {
  return (pair?.dataset.advice ?? "").split(" ").filter(Boolean).map(Number);
}
