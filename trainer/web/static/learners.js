// After a learner was deleted: what this browser kept of their charts goes, too.

import { draftKey, forgetAll } from "./storage.js";

const { deleted } = /** @type {HTMLElement} */ (document.getElementById("main")).dataset;
if (deleted) forgetAll(draftKey(deleted));
// The page loaded again says nothing of it.
history.replaceState(null, "", location.pathname);
