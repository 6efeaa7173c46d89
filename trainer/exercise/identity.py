"""What exercises are named by: digests that stay as they are when notation and words change.

The id of an exercise, and the random numbers that its song and its band are made with, come from
digests of its recipe and its chart. They are taken of these in the signs and words of the first
notation, so that an exercise keeps its id and its sound whatever the signs are now.
"""

from __future__ import annotations

import hashlib
from typing import Any

from trainer.chart import Articulation, Bar, Chart
from trainer.chart.format import ARTICULATION_LETTERS, format_with, format_words

__all__ = ["chart_identity", "first_names", "short_digest"]

ID_LENGTH = 16
_LETTERS = ARTICULATION_LETTERS | {Articulation.CHOKE: "s"}
_NAMES = {"choke": "stop", "features.chokes": "features.stops"}


def short_digest(*parts: object) -> str:
    """The first `ID_LENGTH` hexadecimal digits of the SHA-256 of the parts."""
    text = "\0".join(map(str, parts))
    return hashlib.sha256(text.encode()).hexdigest()[:ID_LENGTH]


def first_names(value: Any) -> Any:
    """A key or a value of a recipe in the words and signs that it had first."""
    if isinstance(value, str):
        return _NAMES.get(value, value).replace("ø", "h")
    if isinstance(value, list):
        return [first_names(each) for each in value]
    return value


def chart_identity(chart: Chart) -> str:
    """A chart as text in the signs of the first notation. It is for digests, not for reading."""
    return format_with(chart, lambda bar: _bar(bar, chart))


def _bar(bar: Bar, chart: Chart) -> str:
    before = "(fade) " if bar.fades else ""
    before += f"(key {bar.key_change:+d}) " if bar.key_change else ""
    if bar.meter != chart.meter:
        before += f"({bar.meter}) "
    before += format_words(bar)
    chords = []
    for event in bar.events:
        text = str(event.chord or 0).replace("ø", "h")
        text += "" if bar.is_even else "'" * int(event.beats)
        chords.append(text + (_LETTERS[event.articulation] if event.articulation else ""))
    return before + "_".join(chords)
