"""Names of sections as people type them: with a colon, alone on a line, in square brackets."""

from __future__ import annotations

import re
from typing import NamedTuple

from trainer.chart.keys import Key
from trainer.chart.lookalikes import LOOKALIKES
from trainer.chart.section_names import OTHER, section_kind, split_repeats
from trainer.chart.typed.other_names import looks_roman, read_letters

__all__ = ["Label", "is_chord_name", "read_bare_label"]

BRACKETED = re.compile(r"\[\s*(?P<name>[^\W\d_][^\[\]]*?)\s*:?\s*\](?:\s*:)?")
# A name alone on its line, with one number at most, so that bars after it are not taken for it.
ALONE = re.compile(r"[^\W\d_][^\d:|,.;%?()\[\]]*(?:\d{1,2}[A-Za-z]?)?(?:\s*\([^\d()]*\))?")
NUMBER = re.compile(r"[b#]*\d")
FIRST_WORD = re.compile(r"[^\s.|:,;()\[\]]+")
KEY_OF_C = Key("C")


class Label(NamedTuple):
    """A section's name at the beginning of a line.

    `times` is how often the section is played by its name (`Chorus 2x`); `end` the index after the
    label.
    """

    name: str
    times: int
    end: int


def is_chord_name(word: str) -> bool:
    """Whether a word is a chord in any writing, or the sign for no chord."""
    word = word.translate(LOOKALIKES)
    is_number = NUMBER.match(word) is not None
    is_silence = word.lower() in ("nc", "n/c")
    return is_number or is_silence or looks_roman(word) or read_letters(word, KEY_OF_C) is not None


def read_bare_label(line: str) -> Label | None:
    """Read the name of a known kind of section that has no colon after it.

    In square brackets it may stand before bars; otherwise it is alone on its line. `line` has no
    spaces around it.
    """
    bracketed = BRACKETED.match(line)
    if bracketed is not None:
        name, times = split_repeats(bracketed["name"])
        return None if section_kind(name) == OTHER else Label(name, times, bracketed.end())
    name, times = split_repeats(line)
    first = FIRST_WORD.match(name)
    if first is None or len(first[0]) == 1 or ALONE.fullmatch(name) is None:
        return None
    is_label = section_kind(name) != OTHER and not is_chord_name(first[0])
    return Label(name, times, len(line)) if is_label else None
