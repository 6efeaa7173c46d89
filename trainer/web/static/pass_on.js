// Sends on a form whose values another site brought, or that another site waits for.
document.querySelector("form[data-pass-on]")?.requestSubmit();
