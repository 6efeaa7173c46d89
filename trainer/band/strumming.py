"""Strumming and picking patterns of the guitar, and which a song has in each kind of section.

Patterns are common practice, no source.
"""

from __future__ import annotations

import random
from typing import NamedTuple

from trainer.band.feels import Role
from trainer.band.section_patterns import CYCLES, FULL
from trainer.band.timeline import TimelineBar
from trainer.chart import Feel

__all__ = ["BASS_FIRST", "FULL", "Strokes", "StrumPlan"]

D, M, B, O = Role.DOWN, Role.MID, Role.BACK, Role.OFF  # noqa: E741 - as drummers' charts do

# Strokes after the first attack, by feel and role: (subdivision, stroke, loudness). "D" all strings
# downwards, "d" the lower ones, "h" those above the bass, "U" the upper ones upwards, "b" the bass
# string, "a" the other one. The chord after a bass string is louder, because it shows whether the
# chord is major or minor.
Stroke = tuple[int, str, float]
Strum = dict[Role, tuple[Stroke, ...]]
# A bar's strokes: by cell and subdivision, the stroke and its loudness.
Strokes = dict[tuple[int, int], tuple[str, float]]

BOOM_CHICK: Strum = {
    D: ((0, "b", 0.9),),
    M: ((0, "a", 0.85),),
    B: ((0, "h", 1.0),),
    O: ((0, "h", 0.9),),
}
BOOM_CHICKA: Strum = {**BOOM_CHICK, B: ((0, "h", 1.0), (1, "U", 0.75))}
BOOMA_CHICKA: Strum = {**BOOM_CHICKA, M: ((0, "a", 0.85), (1, "U", 0.6))}
WALTZ: Strum = {
    D: ((0, "b", 0.9),),
    M: ((0, "a", 0.85),),
    O: ((0, "h", 0.95),),
    B: ((0, "h", 0.95),),
}
EVERY_BEAT: Strum = {
    D: ((0, "D", 1.0),),
    M: ((0, "D", 0.9),),
    O: ((0, "D", 0.8),),
    B: ((0, "D", 0.85),),
}
EVERY_EIGHTH: Strum = {
    D: ((0, "D", 1.0), (1, "U", 0.65)),
    M: ((0, "D", 0.85), (1, "U", 0.65)),
    O: ((0, "D", 0.8), (1, "U", 0.65)),
    B: ((0, "D", 0.95), (1, "U", 0.7)),
}
# In 6/8 and 12/8 the dotted beats are struck about alike and what lies between them is much softer:
# with the third and fifth eighth as strong as the fourth, 6/8 would be heard as 3/4.
DOTTED_BEATS: Strum = dict.fromkeys(Role, ((0, "D", 1.0),))
COMPOUND_BEATS: Strum = {**DOTTED_BEATS, B: ((0, "D", 1.0), (2, "U", 0.42))}

LIGHT: dict[Feel, tuple[Strum, ...]] = {
    Feel.STRAIGHT: (
        {**EVERY_BEAT, B: ((0, "D", 0.85), (1, "U", 0.65))},
        {**EVERY_BEAT, M: ((0, "D", 0.9), (1, "U", 0.6))},
        {**EVERY_BEAT, M: ((1, "U", 0.7),), B: ((0, "D", 0.85), (1, "U", 0.6))},
        EVERY_BEAT,
    ),
    Feel.SHUFFLE: (
        {**EVERY_BEAT, B: ((0, "D", 0.9), (1, "U", 0.6))},
        {**EVERY_BEAT, M: ((0, "D", 0.9), (1, "U", 0.6)), B: ((0, "D", 0.9),)},
        EVERY_BEAT,
    ),
    Feel.TWO_BEAT: (BOOM_CHICK, BOOM_CHICKA),
    Feel.TRAIN_BEAT: (BOOM_CHICKA, BOOM_CHICK),
    Feel.HALF_TIME: (
        {D: ((0, "D", 1.0),), O: ((1, "U", 0.6),), B: ((0, "D", 0.9),)},
        {D: ((0, "D", 1.0),), O: ((0, "D", 0.7),), B: ((0, "D", 0.9), (1, "U", 0.6))},
        {D: ((0, "D", 1.0),), M: ((0, "D", 0.9),), B: ((0, "D", 0.9), (1, "U", 0.6))},
    ),
    Feel.WALTZ: (
        WALTZ,
        {**WALTZ, O: ((0, "h", 0.95), (1, "U", 0.65))},
        {**WALTZ, O: ((0, "h", 1.0),), B: ((0, "h", 0.85),), D: ((0, "b", 0.9), (1, "U", 0.6))},
    ),
    Feel.SIX_EIGHT: (
        dict.fromkeys(Role, ((0, "D", 1.0), (2, "U", 0.42))),
        COMPOUND_BEATS,
    ),
    Feel.TWELVE_EIGHT: (COMPOUND_BEATS, {**COMPOUND_BEATS, M: ((0, "D", 1.0), (2, "U", 0.42))}),
}
FULLER: dict[Feel, tuple[Strum, ...]] = {
    Feel.STRAIGHT: (
        {
            D: ((0, "D", 1.0),),
            M: ((1, "U", 0.75),),
            O: ((0, "D", 0.8), (1, "U", 0.7)),
            B: ((0, "D", 0.95), (1, "U", 0.75)),
        },
        EVERY_EIGHTH,
        {**EVERY_EIGHTH, D: ((0, "D", 1.0),)},
        {**EVERY_EIGHTH, M: ((0, "D", 0.9),)},
    ),
    Feel.SHUFFLE: (
        dict.fromkeys(Role, ((0, "D", 0.95), (1, "U", 0.7))),
        {**EVERY_EIGHTH, M: ((0, "D", 0.9),)},
        {**EVERY_EIGHTH, D: ((0, "D", 1.0),)},
    ),
    Feel.TWO_BEAT: (BOOM_CHICKA, BOOMA_CHICKA),
    Feel.TRAIN_BEAT: (BOOM_CHICKA, BOOMA_CHICKA),
    Feel.HALF_TIME: (
        {
            D: ((0, "D", 1.0), (1, "U", 0.65)),
            O: ((1, "U", 0.7),),
            M: ((0, "D", 0.9),),
            B: ((0, "D", 0.95), (1, "U", 0.7)),
        },
        EVERY_EIGHTH,
        {**EVERY_EIGHTH, O: ((0, "D", 0.8),)},
    ),
    Feel.WALTZ: (
        {**WALTZ, O: ((0, "h", 1.0), (1, "U", 0.7)), B: ((0, "h", 1.0), (1, "U", 0.7))},
        {**WALTZ, O: ((0, "h", 1.0),), B: ((0, "h", 1.0), (1, "U", 0.7))},
        {**WALTZ, O: ((0, "h", 1.0), (1, "U", 0.7)), B: ((0, "h", 1.0),)},
    ),
    Feel.SIX_EIGHT: (
        dict.fromkeys(Role, ((0, "D", 1.0), (1, "d", 0.4), (2, "U", 0.45))),
        dict.fromkeys(Role, ((0, "D", 1.0), (2, "U", 0.45))),
    ),
    Feel.TWELVE_EIGHT: (
        dict.fromkeys(Role, ((0, "D", 1.0), (2, "U", 0.45))),
        {**dict.fromkeys(Role, ((0, "D", 1.0), (2, "U", 0.45))), M: ((0, "D", 1.0),)},
    ),
}
# Feels whose first attack is the bass string with the chord just after it on the next cell.
BASS_FIRST = (Feel.TWO_BEAT, Feel.TRAIN_BEAT, Feel.WALTZ)
# Strings by rank above the bass, the orders in which a picking hand goes round.
ROLLS = ((2, 3, 4, 3, 2, 3), (2, 4, 3, 4, 2, 3), (3, 2, 4, 2, 3, 4), (2, 3, 4, 2, 3, 4))
# Share of the stretches whose last bar leads on.
MARKED_SHARE = 0.7


class _Choice(NamedTuple):
    """What a kind of section is played on: patterns and rolls of the bars of a stretch in turn."""

    strums: tuple[Strum, ...]
    rolls: tuple[tuple[int, ...], ...]


class StrumPlan:
    """The patterns of a song: each kind of section has its own, lighter and fuller."""

    def __init__(self, seed: int) -> None:
        self._seed = seed
        self._choices: dict[tuple[str, Feel, bool], _Choice] = {}

    def _choice(self, bar: TimelineBar) -> _Choice:
        """The patterns of a kind of section: the same in every chart with the same seed."""
        full = bar.energy >= FULL
        key = (bar.kind, bar.feel, full)
        if key not in self._choices:
            draw = random.Random(f"{self._seed} {bar.kind} {bar.feel} {full}")
            strums = draw.sample((FULLER if full else LIGHT)[bar.feel], 2)
            rolls = draw.sample(ROLLS, 2)
            cycle = draw.choice(CYCLES)
            self._choices[key] = _Choice(
                tuple(strums[turn] for turn in cycle), tuple(rolls[turn] for turn in cycle)
            )
        return self._choices[key]

    def roll(self, bar: TimelineBar) -> tuple[int, ...]:
        """The order in which strings are picked in a bar."""
        rolls = self._choice(bar).rolls
        return rolls[bar.stretch_index % len(rolls)]

    def strokes(self, bar: TimelineBar, is_split: bool) -> Strokes:
        """The strokes of a bar; `is_split` says that it holds several chords."""
        strums = self._choice(bar).strums
        strum = strums[bar.stretch_index % len(strums)]
        strokes = {
            (number, sub): (stroke, loudness)
            for number, cell in enumerate(bar.cells)
            for sub, stroke, loudness in strum.get(cell.role, ())
        }
        if is_split:
            _beat_out(strokes, bar)
        if bar.last_in_stretch:
            draw = random.Random(f"{self._seed} {bar.number}")
            if draw.random() < MARKED_SHARE:
                _lead_on(strokes, bar, 2 if draw.random() < 0.4 else 1)
        return strokes


def _beat_out(strokes: Strokes, bar: TimelineBar) -> None:
    """Strike every beat of a split bar, so that each of its chords is heard."""
    chord = "h" if bar.feel in BASS_FIRST else "D"
    for number in range(len(bar.cells)):
        strokes.setdefault((number, 0), (chord, 0.85))


def _lead_on(strokes: Strokes, bar: TimelineBar, cells: int) -> None:
    """Strike every beat and upbeat of the last cells, the way a player leads on."""
    chord = "h" if bar.feel in BASS_FIRST else "D"
    for number in range(max(1, len(bar.cells) - cells), len(bar.cells)):
        late = len(bar.cells[number].subs) - 1
        strokes.setdefault((number, 0), (chord, 0.9))
        if late and (number, late) in strokes:
            # It is struck anyway; the hand stops short of it, and the bar breathes.
            del strokes[number, late]
        elif late:
            strokes[number, late] = ("U", 0.75)
