"""From gestures to notes: timing and touch of people, seeded, small and bounded.

A gesture never starts before the chord it belongs to, so that a chord change is late by a few
milliseconds if anything, and it ends exactly where it was meant to.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from trainer.band.parts import Note

__all__ = ["Gesture", "Hands", "perform"]

BOUND_SDS = 2.0
TOUCH = 4
# However fast the song, nobody strays or strums further than this from the beat, in quarters.
WIDEST_DRIFT, WIDEST_SPREAD = 0.1, 0.12
SHORTEST_QUARTERS = 0.01


class Gesture(NamedTuple):
    """Notes struck together: a chord, a strum, one drum.

    `start` and `end` in quarter notes from the first bar line; `floor` is the earliest start
    allowed; `spread_s` seconds between one pitch and the next, in the order given. `touch`
    is how much harder each of them is struck, in the same order; none if it is empty.
    """

    start: float
    end: float
    pitches: tuple[int, ...]
    velocity: int
    floor: float
    spread_s: float = 0.0
    touch: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Hands:
    """Who plays: `sd_s` standard deviation of the timing in seconds, and the clock to play to.

    `lead_in` is added to every time; what ends at `song_end` rings `tail` quarters longer.
    """

    sd_s: float
    seconds_per_quarter: float
    lead_in: float
    song_end: float
    tail: float = 0.0


class _Struck(NamedTuple):
    start: float
    end: float
    pitch: int
    velocity: int


def _strike(
    gesture: Gesture, room: float, hands: Hands, rng: random.Random, out: list[_Struck]
) -> None:
    """Add a gesture's notes, moved by at most a fifth of the room on either side."""
    start, end, pitches, velocity, floor, spread, touch = gesture
    bound = BOUND_SDS * hands.sd_s
    drift = max(-bound, min(bound, rng.gauss(0.0, hands.sd_s))) / hands.seconds_per_quarter
    length = end - start
    late, early = min(length * 0.2, WIDEST_DRIFT), min(room * 0.2, WIDEST_DRIFT)
    at = start + max(-early, min(late, drift))
    if at < floor:
        # What would be early at a chord change is late by as much.
        at = min(floor + (floor - at), start + late)
    step = 0.0
    if spread and len(pitches) > 1:
        widest = min(length * 0.3, WIDEST_SPREAD) / (len(pitches) - 1)
        step = min(spread / hands.seconds_per_quarter, widest)
    for pitch, harder in zip(pitches, touch or (0,) * len(pitches), strict=True):
        touched = velocity + harder + int(rng.random() * (2 * TOUCH + 1)) - TOUCH
        out.append(_Struck(at, end, pitch, max(1, min(127, touched))))
        at += step


def perform(gestures: Iterable[Gesture], hands: Hands, rng: random.Random) -> tuple[Note, ...]:
    """Play gestures; a pitch struck again is released first, so no two notes of it overlap."""
    ordered = sorted(gestures, key=lambda gesture: gesture.start)
    struck: list[_Struck] = []
    room, before = 1.0, None
    for gesture in ordered:
        if before is not None and gesture.start > before:
            room = gesture.start - before
        before = gesture.start
        _strike(gesture, room, hands, rng, struck)
    struck.sort()
    notes: list[Note] = []
    sounding_until: dict[int, float] = {}
    # Backwards, so that each note knows where its pitch is struck next.
    for start, end, pitch, velocity in reversed(struck):
        stop = min(end, sounding_until.get(pitch, end))
        if stop - start < SHORTEST_QUARTERS and pitch in sounding_until:
            continue
        sounding_until[pitch] = start
        if stop >= hands.song_end - 1e-9:
            stop += hands.tail
        notes.append(Note(max(start + hands.lead_in, 0.0), stop - start, pitch, velocity))
    notes.reverse()
    return tuple(notes)
