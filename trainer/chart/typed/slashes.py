"""Single slashes between groups of chords: the ends of phrases, or another note in the bass."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from trainer.chart.typed.pieces import Kind, Piece
from trainer.chart.typed.question import Choice, Doubt
from trainer.chart.typed.units import Unit, split

__all__ = ["settle_slashes"]

SLASHES_ASKED = "Does each slash end a phrase, or put another note in the bass?"
# Equal groups of at least this many chords are phrases.
PHRASE_BARS = 4
BASS = re.compile(r"[b#]?[1-7]")


def settle_slashes(units: list[Unit], *, may_ask: bool) -> tuple[list[Unit], Doubt | None]:
    """Put phrase ends in place of single slashes between groups of two or more chords.

    Where a slash could also put the number after it in the bass of the chord before, that is asked
    about. Slashes that are beats, or that cannot be phrase ends, stay as they are.
    """
    groups = split(units, Kind.BEAT)
    inner = groups if groups[-1] else groups[:-1]
    if len(groups) < 2 or not inner or any(_bar_count(group) < 2 for group in inner):
        return units, None
    phrases = _with_ends(units)
    basses = _with_basses(inner)
    sizes = {_bar_count(group) for group in inner}
    are_equal = len(sizes) == 1 and sizes.pop() >= PHRASE_BARS
    has_seven = any(group[0].text == "7" for group in inner[1:])
    if basses is None or (are_equal and not has_seven):
        return phrases, None
    if not may_ask:
        return units, None
    choices = (Choice("each slash ends a phrase", _text(phrases)), Choice(_overs(inner), basses))
    return phrases, Doubt(units[0].start, units[-1].end, SLASHES_ASKED, choices)


def _bar_count(group: Sequence[Unit]) -> int:
    return sum(unit.is_bar for unit in group)


def _with_ends(units: Sequence[Unit]) -> list[Unit]:
    """The units with a dot for each slash, without one after the last bar."""
    last = max(number for number, unit in enumerate(units) if unit.kind is not Kind.BEAT)
    found: list[Unit] = []
    for number, unit in enumerate(units):
        if unit.kind is not Kind.BEAT:
            found.append(unit)
        elif number < last and found[-1].kind is not Kind.END:
            place = unit.pieces[0]
            found.append(Unit(Kind.END, [Piece(Kind.END, ".", place.start, place.end)]))
    return found


def _with_basses(groups: Sequence[Sequence[Unit]]) -> str | None:
    """The text with the number after each slash in the bass; None where one cannot be."""
    text = _text(groups[0])
    for before, after in pairwise(groups):
        chord, bass = before[-1].text, after[0].text
        fits = BASS.fullmatch(bass) is not None and not after[0].before and bass != chord
        if not fits or before[-1].kind is not Kind.CHORD or any(s in chord for s in "/()'dpc"):
            return None
        text += "/" + _text(after)
    return text if len(groups) > 1 else None


def _overs(groups: Sequence[Sequence[Unit]]) -> str:
    """The first of the chords over another note, as a musician says it."""
    return f"{groups[0][-1].text} over {groups[1][0].text}"


def _text(units: Sequence[Unit]) -> str:
    return " ".join(unit.whole_text for unit in units)
