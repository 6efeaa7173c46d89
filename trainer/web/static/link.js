// What a link is worth stands behind its #, which the browser does not send: it goes into the form.

const form = /** @type {HTMLFormElement} */ (document.getElementById("open"));
const token = location.hash.slice(1);
if (token) {
  // It stays neither in the address nor in the history.
  history.replaceState(null, "", location.pathname);
  /** @type {HTMLInputElement} */ (form.elements.namedItem("token")).value = token;
  form.submit();
}
