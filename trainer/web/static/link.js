// What a link is worth stands behind its #, which the browser does not send: it goes into a form.

const field = /** @type {HTMLInputElement} */ (document.querySelector("[data-hash]"));

function take() {
  const worth = location.hash.slice(1);
  if (!worth) return;
  // It stays neither in the address nor in the history.
  history.replaceState(null, "", location.pathname);
  field.value = worth;
  if (field.dataset.hash === "send") field.form?.submit();
}

// The link may be opened on this page itself, which is then not loaded again.
addEventListener("hashchange", take);
take();
