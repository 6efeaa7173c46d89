// Keeps a press on a sound's button that comes before the page's modules are loaded; hear_buttons.js
// plays it then. It is no module, so that it runs before the buttons can be pressed.

document.addEventListener("click", (event) => {
  const target = /** @type {HTMLElement} */ (event.target);
  /** @type {any} */ (window).pressedEarly = target.closest(".hear");
});
