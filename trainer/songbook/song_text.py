"""What is read of a song's text: a version for the store, and the chart as another key has it."""

from __future__ import annotations

import re
from datetime import datetime

from trainer.chart import Chart, Header, Key, ParseResult, called_in, parse_tolerant
from trainer.errors import TextTooLong
from trainer.store import NewVersion, storable

__all__ = ["MOST_TEXT", "UNTITLED", "in_key", "new_version", "read_song", "title_of"]

# Longer than any chart that can be read, so that a text with too many bars can be kept as well.
MOST_TEXT = 100_000
# What a song is called whose text names no title.
UNTITLED = "Untitled"
_TITLE = re.compile(r"^[ \t]*title[ \t]*:[ \t]*(.*?)[ \t]*$", re.IGNORECASE | re.MULTILINE)
# How long a title may be in lists; the text keeps the whole.
LONGEST_TITLE = 200


def read_song(text: str) -> ParseResult:
    """Read a song's text as far as it goes. Never raises."""
    return parse_tolerant(text)


def new_version(text: str, saved_at: datetime, began_from: int | None = None) -> NewVersion:
    """A text as it was typed, with what can be read of it.

    Raises
    ------
    TextTooLong
        If it is longer than `MOST_TEXT` characters.
    """
    if len(text) > MOST_TEXT:
        raise TextTooLong(MOST_TEXT)
    text = storable(text.replace("\r\n", "\n"))
    chart = read_song(text).chart
    usual = Header()
    return NewVersion(
        text=text,
        title=title_of(text, chart),
        key=str(usual.key if chart is None else chart.key),
        tempo=usual.tempo if chart is None else chart.tempo,
        meter=str(usual.meter if chart is None else chart.meter),
        bars=0 if chart is None else len(chart.bars()),
        saved_at=saved_at,
        began_from=began_from,
    )


def title_of(text: str, chart: Chart | None) -> str:
    """The title in a text, also where it has no bars yet or is too long for a chart; "" if none."""
    if chart is not None and chart.title:
        return chart.title
    found = _TITLE.search(text)
    return found[1][:LONGEST_TITLE] if found else ""


def in_key(chart: Chart, key: Key | None) -> Chart:
    """The chart in another key; None leaves its own."""
    return chart if key is None else called_in(chart, key)
