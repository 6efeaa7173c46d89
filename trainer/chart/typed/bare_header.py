"""Header lines without a colon, as people write them above a chart: Key of D, 4/4, 92 bpm."""

from __future__ import annotations

import re
from typing import NamedTuple

from trainer.chart.model import Feel
from trainer.chart.typed.question import Choice, Doubt

__all__ = ["HeaderItem", "meter_doubt", "read_bare_header"]

FEELS = "|".join(re.escape(feel) for feel in sorted(Feel, key=len, reverse=True))
ITEM = re.compile(
    r"(?:(?:(?:in\s+)?(?:the\s+)?key\b\s*(?:of|is|=|:)?|in\b)\s*"
    r"(?P<key>[A-Ga-g][b#♭♯]?(?:m|\s*min(?:or)?|\s*maj(?:or)?)?)"
    r"|(?:tempo|bpm)\s*[=:]?\s*(?P<tempo>\d{2,3})(?:\s*bpm)?|(?P<bpm>\d{2,3})\s*bpm"
    r"|(?:(?:meter|time)\s*:?\s*)?(?P<meter>(?:2|3|4|5|6)/4|(?:3|6|9|12)/8|2/2)(?:\s*time)?"
    rf"|(?:feel\s*:?\s*)?(?P<feel>{FEELS})(?:\s*feel)?)(?![^\s,;|.])[\s,;|.]*(?:[-–—]\s+)?",
    re.IGNORECASE,
)
LETTER = re.compile(r"(?P<key>[A-G][b#♭♯]?(?:m|\s*min(?:or)?)?)(?![^\s,;|.])[\s,;|.]*(?:[-–—]\s+)?")
LAST_NUMBER = re.compile(r"(?P<tempo>\d{2,3})")
ALONE_IN_LINE = re.compile(r"(?:2|3|5|6)/4|[1-7]+")


class HeaderItem(NamedTuple):
    """A header word, its value, and the index in the line where the value begins."""

    word: str
    value: str
    start: int


def read_bare_header(line: str, *, may_be_key: bool = False) -> tuple[HeaderItem, ...]:
    """Read a line that says nothing but key, tempo, meter or feel; () if it says anything else.

    A single 3/4 is left alone, since it could be a bar. A letter is a key beside other values;
    `may_be_key` is whether it is one alone, too.
    """
    found: list[HeaderItem] = []
    at, is_letter = 0, False
    if ALONE_IN_LINE.fullmatch(line) is not None:
        return ()
    while at < len(line):
        match = ITEM.match(line, at) or (LAST_NUMBER.fullmatch(line, at) if found else None)
        match = match or LETTER.match(line, at)
        if match is None:
            return ()
        is_letter = is_letter or match.re is LETTER
        group = match.lastgroup or ""
        word = "tempo" if group == "bpm" else group
        found.append(HeaderItem(word, _value(word, match[group]), match.start(group)))
        at = match.end()
    words = [item.word for item in found]
    if is_letter and (words.count("key") > 1 or (len(found) == 1 and not may_be_key)):
        return ()
    return tuple(found)


def _value(word: str, text: str) -> str:
    if word != "key":
        return text.lower()
    match = re.match(r"([A-Ga-g][b#♭♯]?)\s*(.*)", text)
    assert match is not None
    mode = match[2].lower()
    minor = mode.startswith("mi") or match[2] == "m"
    return match[1][0].upper() + match[1][1:] + (" minor" if minor else "")


def meter_doubt(line: str) -> Doubt:
    """The question about a first line that is nothing but 3/4 or the like."""
    text = line.strip()
    start = line.index(text)
    over = text.replace("/", " over ")
    choices = (Choice(f"the chord {over}", f"({text})"), Choice("the meter", f"meter: {text}"))
    asked = f"Is {text} the chord {over}, or the meter of the song?"
    return Doubt(start, start + len(text), asked, choices)
