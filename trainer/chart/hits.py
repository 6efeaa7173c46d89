"""Hits: the rhythm that everybody plays together in a bar, written as `*12+4` before it.

The star is followed by the beats that are struck. A plus after a beat is the eighth after it, as
musicians count: "one, two and, four". Where a bar has ten beats or more, commas stand between them.
Places are counted in beats from the bar line.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from fractions import Fraction
from typing import Protocol

from trainer.chart.meter import Meter
from trainer.errors import ChartError

__all__ = ["HITS", "HIT_SIGN", "check_hits", "format_hits", "hit_names", "hit_strip", "parse_hits"]

HIT_SIGN = "*"
# The sign with what is written after it; not after a letter or a figure, where it means nothing.
HITS = re.compile(r"(?<![^\s|()\[\],;.])\*(?P<beats>\d+\+?(?:,?\d+\+?)*)")
ONE_DIGIT, NUMBER = re.compile(r"\d\+?"), re.compile(r"(\d{1,3})(\+?)", re.ASCII)
HALF = Fraction(1, 2)
# From so many beats on a beat may have two figures, so that commas part them.
TWO_FIGURES = 10


class Sounding(Protocol):
    """A chord, None for silence, with its length and its articulation: an event of a bar."""

    @property
    def chord(self) -> object: ...

    @property
    def beats(self) -> Fraction: ...

    @property
    def articulation(self) -> str | None: ...


def parse_hits(text: str, meter: Meter) -> tuple[Fraction, ...]:
    """Read the beats after the sign: 12+4 is 0, 3/2 and 3 beats from the bar line.

    Raises ChartError for beats that the bar does not have, or that do not rise.
    """
    by_commas = "," in text or meter.beats >= TWO_FIGURES
    written = text.split(",") if by_commas else ONE_DIGIT.findall(text)
    read = [NUMBER.fullmatch(each) for each in written]
    if "".join(written) != text.replace(",", "") or None in read:
        raise ChartError("hits", f"*{text}", _expected(meter))
    hits = tuple(
        Fraction(int(each[1]) - 1) + (HALF if each[2] else 0) for each in read if each is not None
    )
    _check_places(hits, meter, f"*{text}")
    return hits


def hit_names(hits: Sequence[Fraction]) -> list[str]:
    """The beats as musicians write them: 1, 2+, 4."""
    return [f"{int(hit) + 1}{'' if hit.denominator == 1 else '+'}" for hit in hits]


def format_hits(hits: Sequence[Fraction], meter: Meter) -> str:
    """Write hits as they stand before their bar: *12+4."""
    return HIT_SIGN + ("," if meter.beats >= TWO_FIGURES else "").join(hit_names(hits))


def hit_strip(hits: Sequence[Fraction], meter: Meter) -> tuple[str, ...]:
    """A bar's hits as a row to draw: "hit", "beat" for a beat without one, or "" between beats.

    The row has a place for each eighth; none if the bar has no hits.
    """
    if not hits:
        return ()
    step = HALF if meter.unit <= 4 else Fraction(1)
    places = [step * number for number in range(int(meter.beats / step))]
    return tuple(
        "hit" if place in hits else "beat" if place.denominator == 1 else "" for place in places
    )


def check_hits(hits: tuple[Fraction, ...], meter: Meter, events: Sequence[Sounding]) -> None:
    """Raise ChartError unless hits are places of the bar and every chord sounds on one of them.

    A pushed chord sounds from an eighth before its place. A held one is struck once.
    """
    found = ", ".join(hit_names(hits)) if all(hit.denominator <= 2 for hit in hits) else str(hits)
    _check_places(hits, meter, found)
    starts = _starts(meter, events)
    for number, event in enumerate(events):
        start, end = starts[number], starts[number + 1]
        inside = [hit for hit in hits if start <= hit < end]
        if event.chord is not None and not inside:
            raise ChartError("hits", f"no hit on {event.chord}", "a hit on every chord of the bar")
        if event.articulation == "hold" and len(inside) > 1:
            raise ChartError(
                "hits", f"{len(inside)} hits on {event.chord}d", "one hit on a chord that is held"
            )


def _starts(meter: Meter, events: Sequence[Sounding]) -> list[Fraction]:
    """Where each chord sounds first, and the end of the bar."""
    starts, at = [], Fraction(0)
    for event in events:
        early = Fraction(meter.unit, 8) if event.articulation == "push" and at else Fraction(0)
        starts.append(max(Fraction(0), at - early))
        at += event.beats
    return [*starts, at]


def _check_places(hits: tuple[Fraction, ...], meter: Meter, found: str) -> None:
    least = HALF if meter.unit <= 4 else Fraction(1)
    rising = all(first < second for first, second in itertools.pairwise(hits))
    places = all(0 <= hit < meter.beats and hit % least == 0 for hit in hits)
    if not (hits and rising and places):
        raise ChartError("hits", found, _expected(meter))


def _expected(meter: Meter) -> str:
    last = meter.beats
    example = "*1,4,7" if last >= TWO_FIGURES else "*1" if last == 1 else "*12" if last == 2 else ""
    if meter.unit <= 4:
        example = example or ("*12+3" if last == 3 else "*12+4")
        return f"beats from 1 to {last} in order, + for the eighth after one, as in {example}"
    return f"beats from 1 to {last} in order, as in {example or '*13'}"
