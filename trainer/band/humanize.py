"""Attacks turned into notes with small, seeded deviations of timing and loudness.

Most of the timing is the drift that all players share (`pocket`); the rest is each stroke's own. An
attack never starts before the chord it belongs to, so a chord change is at most a few milliseconds
late, and a note ends exactly where its attack does.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass
from operator import itemgetter
from typing import NamedTuple

from trainer.band.parts import Note

__all__ = ["Attack", "PerformanceTiming", "humanize"]

# The sum of two even draws from 0 to 1 has the standard deviation 1/√6.
ROOT_OF_SIX = 6**0.5
VELOCITY_JITTER = 3
JITTERS = 2 * VELOCITY_JITTER + 1
# In quarters: no player strays or strums further than this from the beat, however fast the song is.
WIDEST_DRIFT, WIDEST_SPREAD = 0.1, 0.12
SHORTEST_QUARTERS = 0.01


class Attack(NamedTuple):
    """Notes that a player strikes together: a chord, a strum, one drum.

    `start`, `end` and `earliest_start` are in quarter notes from the first bar line; humanizing
    never moves the attack before `earliest_start`. `spread_s` is the time in seconds between one
    pitch and the next, in the order given. `accents` is added to the velocity of each pitch, in
    the same order; an empty tuple adds nothing.
    """

    start: float
    end: float
    pitches: tuple[int, ...]
    velocity: int
    earliest_start: float
    spread_s: float = 0.0
    accents: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class PerformanceTiming:
    """When and how hard a part is played: on what time line, how precisely, with what strength.

    Attributes
    ----------
    sd_s : standard deviation of the strokes around the player's place, seconds.
    seconds_per_quarter : the tempo.
    lead_in : quarters that are added to every time.
    song_end, tail : notes that end at `song_end` (quarters) ring `tail` quarters longer.
    drift : how late the band is at each half quarter from the first bar line, in quarters; empty
        for a part that is exactly on the clock.
    place_s : how far behind the drift the player is, seconds.
    strength : the factor on the velocity of strokes at each half quarter; used only with `drift`.
    """

    sd_s: float
    seconds_per_quarter: float
    lead_in: float
    song_end: float
    tail: float = 0.0
    drift: tuple[float, ...] = ()
    place_s: float = 0.0
    strength: tuple[float, ...] = ()


# Start, end, pitch and velocity of a note; a plain tuple, for a song has thousands.
_Struck = tuple[float, float, int, int]


def _strike_all(
    ordered: Iterable[Attack], timing: PerformanceTiming, rng: random.Random
) -> list[_Struck]:
    """The notes of attacks that are sorted by start.

    An attack is moved by at most a fifth of its length to later, and to earlier by a fifth of the
    time since the attacks before it. It is all one loop, for a long song has 40,000 attacks.
    """
    draw, drifts, strengths = rng.random, timing.drift, timing.strength
    place_s, quarter_s, wide_s = timing.place_s, timing.seconds_per_quarter, timing.sd_s
    struck: list[_Struck] = []
    room, before = 1.0, None
    for start, end, pitches, velocity, earliest_start, spread, accents in ordered:
        if before is not None and start > before:
            room = start - before
        before = start
        drift = (place_s + (draw() + draw() - 1.0) * ROOT_OF_SIX * wide_s) / quarter_s
        if drifts:
            # A chord that is pushed before the first bar starts in the first half quarter.
            half = int(2.0 * start + 0.5)
            drift += drifts[half]
            velocity = int(velocity * strengths[half] + 0.5)
        length = end - start
        at = start + _within(drift, -room * 0.2, length * 0.2)
        at = max(at, earliest_start)
        count, step = len(pitches), 0.0
        if spread and count > 1:
            widest = min(length * 0.3, WIDEST_SPREAD) / (count - 1)
            step = min(spread / quarter_s, widest)
        velocity -= VELOCITY_JITTER
        for pitch, harder in zip(pitches, accents or (0,) * count, strict=True):
            jittered = velocity + harder + int(draw() * JITTERS)
            loud = 1 if jittered < 1 else min(jittered, 127)
            struck.append((at, end, pitch, loud))
            at += step
    return struck


def _within(drift: float, early: float, late: float) -> float:
    """The drift, at most `late` and at least `early`, and never beyond the widest."""
    if drift > 0:
        late = min(WIDEST_DRIFT, late)
        return min(late, drift)
    early = max(-WIDEST_DRIFT, early)
    return max(early, drift)


def humanize(
    attacks: Iterable[Attack], timing: PerformanceTiming, rng: random.Random
) -> tuple[Note, ...]:
    """Turn attacks into notes, sorted by start.

    A pitch that is struck again is released first, so that two notes of the same pitch never
    overlap.
    """
    struck = _strike_all(sorted(attacks, key=itemgetter(0)), timing, rng)
    struck.sort()
    lead_in, last = timing.lead_in, timing.song_end - 1e-9
    notes: list[Note] = []
    sounding_until: dict[int, float] = {}
    # Backwards, so that each note knows where its pitch is struck next.
    for start, end, pitch, velocity in reversed(struck):
        struck_next = sounding_until.get(pitch)
        stop = end if struck_next is None or end < struck_next else struck_next
        if struck_next is not None and stop - start < SHORTEST_QUARTERS:
            continue
        sounding_until[pitch] = start
        if stop >= last:
            stop += timing.tail
        begin = start + lead_in
        notes.append(Note(max(0.0, begin), stop - start, pitch, velocity))
    notes.reverse()
    return tuple(notes)
