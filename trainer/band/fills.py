"""Fills into new sections, and the smaller changes by which drums mark the end of a stretch.

Common practice, no source.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import NamedTuple

from trainer.band.drum_patterns import (
    CLOSED_HAT,
    FULL,
    HIGH_TOM,
    KICK,
    LOW_TOM,
    MID_TOM,
    OPEN_HAT,
    RIDE,
    SNARE,
)
from trainer.band.timeline import GridPoint, TimelineBar

__all__ = ["Hit", "mark_ending", "play_fill", "wants_fill"]

# From this many seconds a cell on, a fill may run in sixteenths.
SIXTEENTHS_S = 0.5
# Share of the stretches whose end is marked.
MARKED_SHARE = 0.65
NEAR = 1e-6


class Hit(NamedTuple):
    """A stroke of the drums: its time in quarters, drum key, and loudness from 0 to 1."""

    time: float
    key: int
    loudness: float


def wants_fill(bar: TimelineBar, following: TimelineBar | None) -> bool:
    """Whether a bar has a fill: the last bar of a section does, if another section follows."""
    return bar.last_in_section and following is not None and bar.end - bar.start >= 2


Fill = Callable[[tuple[float, ...]], list[Hit]]


def _over(times: tuple[float, ...], *drums: int) -> list[Hit]:
    """Drums in turn, each for an equal share of the times, growing louder."""
    return [
        Hit(time, drums[place * len(drums) // len(times)], 0.65 + 0.3 * place / len(times))
        for place, time in enumerate(times)
    ]


def _down(times: tuple[float, ...]) -> list[Hit]:
    return _over(times, SNARE, HIGH_TOM, MID_TOM, LOW_TOM)


def _held_back(times: tuple[float, ...]) -> list[Hit]:
    return _over(times, SNARE, SNARE, MID_TOM, LOW_TOM)


def _roll(times: tuple[float, ...]) -> list[Hit]:
    """The snare from soft to loud, and a low tom last."""
    rise = [
        Hit(time, SNARE, 0.35 + 0.5 * place / len(times)) for place, time in enumerate(times[:-1])
    ]
    return [*rise, Hit(times[-1], LOW_TOM, 0.95)]


def _by_turns(times: tuple[float, ...]) -> list[Hit]:
    """Kick and hands by turns."""
    hands = (SNARE, HIGH_TOM, LOW_TOM)
    return [
        Hit(time, hands[place // 2 % 3], 0.85) if place % 2 == 0 else Hit(time, KICK, 0.8)
        for place, time in enumerate(times[:-1])
    ] + [Hit(times[-1], LOW_TOM, 0.9)]


def _up(times: tuple[float, ...]) -> list[Hit]:
    return _over(times, LOW_TOM, MID_TOM, HIGH_TOM, SNARE)


def _gap(times: tuple[float, ...]) -> list[Hit]:
    """Two strokes, then nothing until the last one."""
    hits = [Hit(times[0], SNARE, 0.8), Hit(times[-1], LOW_TOM, 0.9)]
    return hits if len(times) < 3 else [hits[0], Hit(times[1], HIGH_TOM, 0.8), hits[1]]


FILLS: tuple[Fill, ...] = (_down, _held_back, _roll, _by_turns, _up, _gap)


def play_fill(
    bar: TimelineBar, following: TimelineBar, seconds_per_quarter: float, draw: random.Random
) -> tuple[float, list[Hit]]:
    """Where a fill into the next section starts, and its hits.

    A fill takes the last beat of a bar before a quieter section, the last two before others, and
    sometimes nearly the whole bar before a fuller one.
    """
    count = len(bar.cells)
    beats = max(1, min(2, count // 2))
    if following.energy < bar.energy - 0.1:
        beats = 1
    elif following.energy > bar.energy + 0.2 and count >= 4 and draw.random() < 0.3:
        beats = 3
    first = count - beats
    start = bar.start + bar.cells[first].start
    times = tuple(point.time for point in bar.grid_points if point.cell >= first)
    if beats <= 2 and draw.random() < 0.35:
        times = _doubled(times, bar, seconds_per_quarter)
    played = draw.choice(FILLS)(times)
    loudness = 0.75 + 0.25 * following.energy
    return start, [
        Hit(start, KICK, 0.8),
        *(hit._replace(loudness=hit.loudness * loudness) for hit in played),
    ]


def _doubled(
    times: tuple[float, ...], bar: TimelineBar, seconds_per_quarter: float
) -> tuple[float, ...]:
    """The times with another between each and the next, where a slow straight beat has room."""
    slow = bar.cells[0].length * seconds_per_quarter >= SIXTEENTHS_S
    if not slow or bar.cells[-1].subs != (0.0, 0.5):
        return times
    return tuple(half for time in times for half in (time, time + 0.25))


def _without(hits: list[Hit], time: float, *keys: int) -> list[Hit]:
    return [hit for hit in hits if hit.key not in keys or abs(hit.time - time) > NEAR]


def _open_hat(hits: list[Hit], last: GridPoint) -> list[Hit]:
    """The hat opens on the last subdivision."""
    kept = _without(hits, last.time, CLOSED_HAT, RIDE, OPEN_HAT)
    return [*kept, Hit(last.time, OPEN_HAT, 0.7)]


def _kick_pickup(hits: list[Hit], last: GridPoint) -> list[Hit]:
    """The kick leads on from the last subdivision."""
    return [*_without(hits, last.time, KICK), Hit(last.time, KICK, 0.75)]


def _both(hits: list[Hit], last: GridPoint) -> list[Hit]:
    return _kick_pickup(_open_hat(hits, last), last)


def _breath(hits: list[Hit], last: GridPoint) -> list[Hit]:
    """The cymbal rests on the last subdivision, and the kick plays there alone."""
    return _kick_pickup(_without(hits, last.time, CLOSED_HAT, RIDE, OPEN_HAT), last)


def _snare_pickup(hits: list[Hit], last: GridPoint) -> list[Hit]:
    """The snare leads on from the last subdivision."""
    return [*_without(hits, last.time, SNARE), Hit(last.time, SNARE, 0.5)]


CALM_ENDINGS = (_open_hat, _kick_pickup, _both, _breath)
LIVELY_ENDINGS = (*CALM_ENDINGS, _snare_pickup)


def mark_ending(bar: TimelineBar, hits: list[Hit], draw: random.Random) -> list[Hit]:
    """The hits of the last bar of a stretch, often with a change on its last subdivision."""
    last = bar.grid_points[-1]
    if not last.sub or draw.random() >= MARKED_SHARE:
        return hits
    return draw.choice(LIVELY_ENDINGS if bar.energy >= FULL else CALM_ENDINGS)(hits, last)
