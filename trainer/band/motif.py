"""Motifs: the rhythm and contour by which the melody of a section is recognised when it returns."""

from __future__ import annotations

import random
from dataclasses import dataclass

from trainer.band.feels import Cell
from trainer.chart.section_names import SECTION_KINDS

__all__ = ["Motif", "motifs_for"]

# One sign a cell: 1 a note, 2 a note and its upbeat, & the upbeat only, - nothing new.
HEADS = ("121-", "1211", "221-", "1121", "2211", "1122")
ANSWERS = ("1-1-", "121-", "11--", "2-1-", "1-2-")
CALM_HEADS = ("1-1-", "11--", "1-11", "1121")
CALM_ANSWERS = ("1---", "1-1-", "11--")
CADENCE = "1---"
CONTOURS = (
    (0, 1, 1, -1, -1, 1, 0, -1),
    (0, 1, 1, 1, -1, -1, -1, 0),
    (0, -1, 1, 1, 1, -1, -1, 0),
    (0, 0, 1, 1, -1, 0, -1, -1),
    (0, 1, -1, 1, 1, -1, -1, 0),
)
# Where in the voice's range each kind of section sings: lowest and highest in semitones above its
# low end, and the first note. Verses are sung lower and choruses higher.
REGISTERS: dict[str, tuple[int, int, int]] = {
    "verse": (0, 12, 5),
    "pre-chorus": (2, 13, 8),
    "chorus": (4, 16, 11),
    "bridge": (3, 14, 9),
    "tag": (4, 15, 10),
}
MIDDLE = (2, 13, 7)
# Share of the melodies that open with a leap, and its size in semitones with weights: most rise by
# a fourth or a fifth, fewer by a sixth or an octave, some fall. Common practice, no source.
LEAP_SHARE = 0.95
LEAPS = {5: 6, 7: 5, 9: 3, 12: 2, -5: 2, -7: 1}


@dataclass(frozen=True, slots=True)
class Motif:
    """The melody of a kind of section, before any chord is known.

    `head` and `answer` are the rhythms of odd and even bars of a phrase, one sign for each cell;
    `contour` the steps between notes; `low`, `high` and `anchor` (the first note) are semitones
    above the lowest pitch of the voice. `leap` is the wide move near the opening, in semitones, or
    0, and `leap_from` the first note that may be reached by it.
    """

    head: str
    answer: str
    contour: tuple[int, ...]
    low: int
    high: int
    anchor: int
    leap: int = 0
    leap_from: int = 1

    def onsets(self, bar: tuple[Cell, ...], index: int, bars: int) -> list[tuple[float, int, int]]:
        """The notes in bar `index` of a phrase of `bars` bars: (offset, cell, subdivision).

        Offsets are in quarters. The last bar comes to rest; a phrase of odd length rests a bar
        earlier and holds on.
        """
        resting = index == bars - 1 or (bars % 2 == 1 and index == bars - 2)
        signs = CADENCE if resting and index > 0 else self.answer if index % 2 else self.head
        found = []
        for number, cell in enumerate(bar):
            sign = signs[number % len(signs)] if number < 8 else "-"
            late = len(cell.subs) - 1
            if sign in "12":
                found.append((cell.start, number, 0))
            if sign in "2&" and late:
                found.append((cell.start + cell.subs[late], number, late))
        return found


def motifs_for(rng: random.Random, pulse_s: float) -> dict[str, Motif]:
    """A motif for every kind of section, with calm rhythms where a pulse takes few seconds."""
    heads, answers = (CALM_HEADS, CALM_ANSWERS) if pulse_s < 0.42 else (HEADS, ANSWERS)
    motifs = {}
    unused = list(heads)
    for kind in ("verse", "chorus", *sorted({*SECTION_KINDS, "other"} - {"verse", "chorus"})):
        # Verse and chorus never share a head, or the ear could not tell them apart.
        unused = unused or list(heads)
        head = unused.pop(rng.randrange(len(unused)))
        motifs[kind] = _motif(rng, head, rng.choice(answers), REGISTERS.get(kind, MIDDLE))
    return motifs


def _motif(rng: random.Random, head: str, answer: str, register: tuple[int, int, int]) -> Motif:
    """A motif in a register; one that leaps starts so that the leap has room."""
    low, high, anchor = register
    contour = rng.choice(CONTOURS)
    leaps = rng.random() < LEAP_SHARE
    leap = rng.choices(list(LEAPS), list(LEAPS.values()))[0] if leaps else 0
    middle = max(low, min(high, anchor - leap // 2))
    return Motif(head, answer, contour, low, high, middle, leap, rng.choice((1, 1, 2)))
