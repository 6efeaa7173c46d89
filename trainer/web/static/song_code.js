// The code of a song, to be copied.

import { setUpCopying } from "./clipboard.js";

setUpCopying();
