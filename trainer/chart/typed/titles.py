"""Lines of words above the bars: the song's title, perhaps with the key and the like after it."""

from __future__ import annotations

import re
from typing import NamedTuple

from trainer.chart.invalid_tokens import looks_like_section_name
from trainer.chart.lookalikes import LOOKALIKES
from trainer.chart.model import check_section_name
from trainer.chart.notes import ARTICULATION_WORDS
from trainer.chart.section_names import OTHER, section_kind
from trainer.chart.typed.bare_header import HeaderItem, read_bare_header
from trainer.chart.typed.labels import is_chord_name
from trainer.chart.typed.question import Choice, Question
from trainer.chart.typed.said import SAID
from trainer.chart.typed.words import read_numbers
from trainer.errors import ChartError

__all__ = ["QUOTES", "BareTitle", "TitleLine", "is_words", "split_title"]

QUOTES = "\"'“”„«»‘’"
WORD_END = re.compile(r"[\s.|,;()\[\]]")
SAID_CHORD = re.compile(SAID)
# What stands between a title and the key, the tempo and the like.
AFTER_TITLE = re.compile(r"\s+[-–—|/]+\s+|\s*[,;(\[]\s*|\s+(?=in\b)", re.IGNORECASE)


class TitleLine(NamedTuple):
    """A title with header values after it on its line; `start` is the index where they begin."""

    title: str
    start: int
    items: tuple[HeaderItem, ...]


class BareTitle(NamedTuple):
    """A first line of words alone, which is taken for the title.

    `line` and `column` are its place, `header_lines` is how many header values are read then.
    """

    line: int
    column: int
    text: str
    header_lines: int

    def question(self) -> Question | None:
        """Ask whether it is the title, or the name of the section whose bars follow; None if it can
        be no such name."""
        try:
            check_section_name(self.text)
        except ChartError:
            return None
        choices = (
            Choice("the title", f"title: {self.text}"),
            Choice("a section", f"{self.text}:"),
        )
        asked = f"Is {self.text} the song's title, or the name of a section?"
        columns = (self.column, self.column + len(self.text))
        return Question(self.line, *columns, None, asked, choices)


def is_words(text: str, *, may_be_title: bool) -> bool:
    """Return whether a line is words, such as a section name of no known kind, or a title."""
    if may_be_title and text[0] in QUOTES and text.strip(QUOTES)[:1].isalpha():
        return True
    first = WORD_END.split(text, maxsplit=1)[0]
    is_chord = SAID_CHORD.match(text) is not None or is_chord_name(first)
    return looks_like_section_name(text) and not is_chord


def has_bars(text: str) -> bool:
    """Return whether words hold what looks like bars, so that they are hardly a title."""
    words = text.split()
    chords = sum(read_numbers(word.translate(LOOKALIKES), True) is not None for word in words)
    return chords > 1 or (chords == 1 and words[0].lower() in ARTICULATION_WORDS)


def split_title(text: str) -> TitleLine | None:
    """Read a first line that has the title and more, as in River Song, key of D; else None."""
    for match in AFTER_TITLE.finditer(text):
        title, rest = text[: match.start()], text[match.end() :].rstrip(") ]")
        items = read_bare_header(rest, may_be_key=True) if title and rest else ()
        if items and section_kind(title) == OTHER and is_words(title, may_be_title=True):
            return TitleLine(title.strip(QUOTES), match.end(), items)
    return None
