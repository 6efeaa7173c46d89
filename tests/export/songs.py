"""Songs for the tests of files, and what outside readers should find in them."""

from __future__ import annotations

import random
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import NamedTuple

from tests.thorough import how_many
from trainer.chart import Articulation, Chart, bass_pitch_class, parse, root_pitch_class
from trainer.generate import Settings, generate

__all__ = [
    "EVERY_SIGN",
    "Sounding",
    "every_sign",
    "generated",
    "some_songs",
    "song_count",
    "sounding",
    "written",
]

FEW, ALL = 3, 200

# Every articulation, split, meter change, key change, a fade and an open bar.
EVERY_SIGN = """title: Ferry Bell at Low Water
meter: 4/4
tempo: 92
feel: shuffle
key: D

Intro:
1p 4 1 5

Verse 1:
1 1/3 4 5 . 1 (1 5/7) 6-d 4 5^7sus4
[2/4] 5 2-^7p b7 #4ø

Chorus:
[up 2] 4 (1''' 5'p) 6- 4c . 0 ? 3-/5 1
[down 4] (1 2- 3-) 1+ (5 5^7 5 5^7p) [6/8] 2- [5/4] (4 5) 1

Tag:
[fade] 4 4/b7 5 1d
"""


class Sounding(NamedTuple):
    """A chord as it is heard: quarters from the beginning, pitch classes; None for no chord."""

    at_quarters: float
    root: int | None
    bass: int | None


def every_sign() -> Chart:
    """The song with every sign."""
    return parse(EVERY_SIGN)


def written() -> list[Chart]:
    """The song with every sign, and the songs that come with the program."""
    files = sorted((Path(__file__).parents[2] / "exercises" / "songs").glob("*.txt"))
    return [every_sign(), *(parse(path.read_text(encoding="utf-8")) for path in files)]


def some_songs() -> Iterator[Chart]:
    """All written songs and some generated ones."""
    yield from written()
    yield from (generated(seed) for seed in range(song_count()))


def song_count() -> int:
    """How many generated songs a test reads: a few, or 200 in a thorough run."""
    return how_many(FEW, ALL)


@cache
def generated(seed: int) -> Chart:
    """A generated song."""
    return generate(Settings(), random.Random(seed))


def sounding(chart: Chart) -> list[Sounding]:
    """Every chord of a chart where slash notation has it; open bars have none.

    A push is an eighth before its place, unless nothing comes before it.
    """
    found = []
    for place in chart.placed_bars():
        if place.bar.is_open:
            continue
        tonic = (chart.key.pitch_class + place.key_shift) % 12
        unit = Fraction(4, place.bar.meter.unit)
        for start, event in zip(place.bar.starts(), place.bar.events, strict=True):
            at = place.start_quarters + start * unit
            if event.articulation is Articulation.PUSH and at:
                at -= Fraction(1, 2)
            if event.chord is None:
                found.append(Sounding(float(at), None, None))
                continue
            root = root_pitch_class(event.chord, tonic)
            found.append(Sounding(float(at), root, bass_pitch_class(event.chord, tonic)))
    return found
