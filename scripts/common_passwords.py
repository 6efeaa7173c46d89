"""Write the digests of common passwords that `trainer.classroom.passwords` refuses.

    .venv/bin/pip install zxcvbn==4.5.0
    .venv/bin/python scripts/common_passwords.py > trainer/classroom/common_passwords.txt

The words come from the frequency lists of zxcvbn (MIT licence, copyright 2012-2016 Dan Wheeler and
Dropbox, 2016 Daniel Wolf): the 4,000 most common passwords, all passwords in the list that are long
enough to be one here, and the English words that are. Only digests are kept: many of the words are
names or obscene.
"""

from __future__ import annotations

import sys

from zxcvbn.frequency_lists import FREQUENCY_LISTS

from trainer.classroom.passwords import SHORTEST, SHORTEST_WORD, word_digest

MOST = 4000

passwords = [word for word in FREQUENCY_LISTS["passwords"] if len(word) >= SHORTEST_WORD]
words = [*passwords[MOST:], *FREQUENCY_LISTS["english_wikipedia"]]
kept = [*passwords[:MOST], *(word for word in words if len(word) >= SHORTEST)]
sys.stdout.writelines(f"{digest}\n" for digest in sorted({word_digest(word) for word in kept}))
