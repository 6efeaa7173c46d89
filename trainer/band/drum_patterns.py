"""What drums play in each feel, and which of it a song has in each kind of section.

Pitches are the drum keys of General MIDI 1. Patterns are common practice, no source.
"""

from __future__ import annotations

import random
from typing import NamedTuple

from trainer.band.feels import Role
from trainer.band.timeline import TimelineBar
from trainer.chart import Feel

__all__ = ["CLOSED_HAT", "CRASH", "FULL", "Beats", "DrumPlan", "Groove"]
__all__ += ["HIGH_TOM", "KICK", "LOW_TOM", "MID_TOM", "OPEN_HAT", "RIDE", "SIDE_STICK", "SNARE"]

KICK, SIDE_STICK, SNARE = 36, 37, 38
CLOSED_HAT, OPEN_HAT = 42, 46
LOW_TOM, MID_TOM, HIGH_TOM = 45, 47, 50
CRASH, RIDE = 49, 51

# What each limb plays in a cell of each role, as (subdivision, loudness from 0 to 1).
Beats = dict[Role, tuple[tuple[int, float], ...]]
D, M, B, O = Role.DOWN, Role.MID, Role.BACK, Role.OFF  # noqa: E741 - as drummers' charts do

# Under the first energy drums are quiet; from the second on the snare replaces the stick in every
# song; from the last on they are full, and the snare has soft strokes between its loud ones.
QUIET, SNARE_FROM, FULL = 0.43, 0.5, 0.7
# In which bars of four the other kick is played; most often in none or in the last.
CYCLES = ((0, 0, 0, 1), (0, 0, 0, 0), (0, 0, 1, 0), (0, 1, 0, 1))
# Share of the songs whose verses have the side stick.
STICK_SHARE = 0.5


def _every(*hits: tuple[int, float]) -> Beats:
    return dict.fromkeys(Role, hits)


EIGHTHS = _every((0, 0.8), (1, 0.5))
QUARTERS = _every((0, 0.75))
THIRDS = _every((0, 0.85), (1, 0.5), (2, 0.55))
LONG_SHORT = _every((0, 0.85), (2, 0.55))
STRAIGHT_TIMES = (EIGHTHS, EIGHTHS, QUARTERS)
SWUNG_TIMES = (EIGHTHS, QUARTERS)
COMPOUND_TIMES = (THIRDS, LONG_SHORT)

# Kick patterns of each feel from calm to busy.
KICKS: dict[Feel, tuple[Beats, ...]] = {
    Feel.STRAIGHT: (
        {D: ((0, 1.0),), M: ((0, 0.95),)},
        {D: ((0, 1.0),), M: ((0, 0.9), (1, 0.8))},
        {D: ((0, 1.0),), M: ((1, 0.85),)},
        {D: ((0, 1.0),), B: ((1, 0.75),), M: ((0, 0.9),)},
        {D: ((0, 1.0), (1, 0.7)), M: ((1, 0.85),)},
        {D: ((0, 1.0), (1, 0.7)), M: ((0, 0.9), (1, 0.8))},
    ),
    Feel.SHUFFLE: (
        {D: ((0, 1.0),), M: ((0, 0.95),)},
        {D: ((0, 1.0),), M: ((0, 0.95), (1, 0.65))},
        {D: ((0, 1.0),), M: ((0, 0.95),), B: ((1, 0.7),)},
        {D: ((0, 1.0), (1, 0.6)), M: ((0, 0.95),), B: ((1, 0.7),)},
    ),
    Feel.TWO_BEAT: (
        {D: ((0, 1.0),), M: ((0, 0.9),)},
        {D: ((0, 1.0),), M: ((0, 0.9), (1, 0.55))},
        {D: ((0, 1.0),), M: ((0, 0.9),), B: ((1, 0.55),)},
    ),
    Feel.TRAIN_BEAT: (
        {D: ((0, 1.0),), M: ((0, 0.9),)},
        {D: ((0, 1.0),), M: ((0, 0.9),), B: ((1, 0.5),)},
        {D: ((0, 1.0), (1, 0.55)), M: ((0, 0.9),)},
    ),
    Feel.HALF_TIME: (
        {D: ((0, 1.0),)},
        {D: ((0, 1.0),), O: ((1, 0.75),)},
        {D: ((0, 1.0), (1, 0.7))},
        {D: ((0, 1.0), (1, 0.7)), O: ((1, 0.8),)},
    ),
    Feel.WALTZ: (
        {D: ((0, 1.0),), M: ((0, 0.9),)},
        {D: ((0, 1.0),), M: ((0, 0.9),), B: ((1, 0.6),)},
        {D: ((0, 1.0),), M: ((0, 0.9),), O: ((1, 0.55),)},
    ),
    Feel.SIX_EIGHT: (
        {D: ((0, 1.0),), M: ((0, 0.9),)},
        {D: ((0, 1.0),), M: ((0, 0.9),), B: ((2, 0.6),)},
        {D: ((0, 1.0), (2, 0.7)), M: ((0, 0.9),), B: ((2, 0.6),)},
    ),
    Feel.TWELVE_EIGHT: (
        {D: ((0, 1.0),), M: ((0, 0.95),)},
        {D: ((0, 1.0),), M: ((0, 0.95),), B: ((2, 0.7),)},
        {D: ((0, 1.0),), M: ((0, 0.95), (2, 0.6)), B: ((2, 0.7),)},
    ),
}
BACKBEAT: Beats = {B: ((0, 1.0),)}
SNARES: dict[Feel, tuple[Beats, ...]] = {
    Feel.TWO_BEAT: ({B: ((0, 0.7),)},),
    Feel.TRAIN_BEAT: ({},),
    Feel.WALTZ: ({O: ((0, 0.55),), B: ((0, 0.65),)}, {B: ((0, 0.75),)}),
}
TIMES: dict[Feel, tuple[Beats, ...]] = {
    Feel.STRAIGHT: STRAIGHT_TIMES,
    Feel.SHUFFLE: SWUNG_TIMES,
    Feel.TWO_BEAT: ({B: ((0, 0.8),), O: ((0, 0.6),)}, EIGHTHS),
    Feel.TRAIN_BEAT: ({B: ((0, 0.7),)},),
    Feel.HALF_TIME: STRAIGHT_TIMES,
    Feel.WALTZ: (
        _every((0, 0.7)),
        {D: ((0, 0.8),), M: ((0, 0.8),), O: ((0, 0.6), (1, 0.45)), B: ((0, 0.6),)},
    ),
    Feel.SIX_EIGHT: COMPOUND_TIMES,
    Feel.TWELVE_EIGHT: COMPOUND_TIMES,
}
# Soft strokes of the snare between its loud ones.
GHOSTS: dict[Feel, tuple[Beats, ...]] = {
    Feel.STRAIGHT: ({M: ((1, 0.25),)}, {B: ((1, 0.22),)}, {D: ((1, 0.2),), M: ((1, 0.25),)}),
    Feel.SHUFFLE: ({D: ((1, 0.25),), M: ((1, 0.25),)}, {B: ((1, 0.22),)}),
    Feel.HALF_TIME: ({O: ((0, 0.22),)}, {B: ((1, 0.25),)}),
    Feel.SIX_EIGHT: ({D: ((2, 0.25),)}, {B: ((1, 0.22),)}),
    Feel.TWELVE_EIGHT: ({D: ((2, 0.25),), M: ((2, 0.25),)}, {B: ((2, 0.22),)}),
}


class Groove(NamedTuple):
    """What a kind of section is drummed on.

    `kicks` are those of the bars of a stretch in turn; `cymbal` is the key that plays `time`;
    `train_accent` is one of the accents of a train beat.
    """

    kicks: tuple[Beats, ...]
    snare: Beats
    snare_key: int
    ghosts: Beats
    time: Beats
    cymbal: int
    train_accent: int


class DrumPlan:
    """The grooves of a song: each kind of section has its own, quieter and fuller."""

    def __init__(self, seed: int, light: bool) -> None:
        self._seed = seed
        self._light = light
        draw = random.Random(seed)
        self._verse_snare = SIDE_STICK if draw.random() < STICK_SHARE else SNARE
        self._full_cymbal = RIDE if light else draw.choice((RIDE, OPEN_HAT))
        self._grooves: dict[tuple[str, Feel, int], Groove] = {}

    def groove(self, bar: TimelineBar) -> Groove:
        """The groove of a bar by its kind of section, feel and energy."""
        level = sum(bar.energy >= least for least in (QUIET, SNARE_FROM, FULL))
        key = (bar.kind, bar.feel, level)
        if key not in self._grooves:
            self._grooves[key] = self._drawn(bar, level)
        return self._grooves[key]

    def _drawn(self, bar: TimelineBar, level: int) -> Groove:
        """A groove drawn for a kind of section: the same in every chart with the same seed."""
        draw = random.Random(f"{self._seed} {bar.kind} {bar.feel} {level}")
        kicks = KICKS[bar.feel]
        half = (len(kicks) + 1) // 2
        calm, busy = kicks[:half], kicks[1:]
        pair = draw.sample(busy if level == 3 else calm, 2) if level else [kicks[0]] * 2
        times = TIMES[bar.feel]
        cymbal = CLOSED_HAT
        if level == 3:
            cymbal = RIDE if bar.kind == "solo" else self._full_cymbal
        snare_key = (SIDE_STICK, self._verse_snare, SNARE, SNARE)[level]
        ghosts = GHOSTS.get(bar.feel, ({},))
        return Groove(
            tuple(pair[turn] for turn in draw.choice(CYCLES)),
            draw.choice(SNARES.get(bar.feel, (BACKBEAT,))),
            snare_key,
            draw.choice(ghosts) if level == 3 else {},
            # A hat that is half open has no eighths: they would cover the chords.
            QUARTERS if cymbal == OPEN_HAT and times is STRAIGHT_TIMES else draw.choice(times),
            cymbal,
            draw.randrange(3),
        )
