// The list of songs: says that a large import takes a moment.

const form = /** @type {HTMLFormElement} */ (document.getElementById("import"));
const status = /** @type {HTMLElement} */ (document.getElementById("import-status"));

form.addEventListener("submit", () => {
  const bar = Object.assign(document.createElement("progress"), { ariaLabel: "Import" });
  status.replaceChildren("Reading the file. ", bar);
  /** @type {HTMLButtonElement} */ (form.querySelector("button")).disabled = true;
});
// A page taken out of the browser's memory is not importing any more.
addEventListener("pageshow", () => {
  status.replaceChildren();
  /** @type {HTMLButtonElement} */ (form.querySelector("button")).disabled = false;
});
