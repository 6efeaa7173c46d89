"""The drums: a pattern for each feel, fills into new sections, and the chart's articulations.

Pitches are the drum keys of General MIDI 1. Patterns are common practice, no source.
"""

from __future__ import annotations

import random
from typing import NamedTuple

from trainer.band.feels import Role
from trainer.band.humanize import Attack
from trainer.band.timeline import CLEAR_AFTER, ChordSpan, GridPoint, Timeline, TimelineBar
from trainer.chart import Articulation, Feel

__all__ = ["CLOSED_HAT", "CRASH", "KICK", "RIDE", "SIDE_STICK", "SNARE", "play_drums"]

KICK, SIDE_STICK, SNARE = 36, 37, 38
CLOSED_HAT, PEDAL_HAT, OPEN_HAT = 42, 44, 46
LOW_TOM, MID_TOM, HIGH_TOM = 45, 47, 50
CRASH, RIDE = 49, 51

RING = {CRASH: 4.0, RIDE: 1.0, OPEN_HAT: 0.5}
# Quarters before a choke from which a cymbal is left alone: synths let it ring to its own end.
STILL_RINGS = {CRASH: 8.0, RIDE: 4.0, OPEN_HAT: 2.0}
DRY = 0.25
FULL = 0.7
# From this many seconds a cell on, a train beat runs in sixteenths, faster in eighths.
TRAIN_SIXTEENTHS_S = 0.42
NEAR = 1e-6

Beats = dict[Role, tuple[tuple[int, float], ...]]
D, M, B, O = Role.DOWN, Role.MID, Role.BACK, Role.OFF  # noqa: E741 - as drummers' charts do


class DrumPattern(NamedTuple):
    """What each limb plays in a cell of each role, as (subdivision, loudness from 0 to 1)."""

    kick: Beats
    snare: Beats
    time: Beats


def _every(*hits: tuple[int, float]) -> Beats:
    return dict.fromkeys(Role, hits)


EIGHTHS = _every((0, 0.8), (1, 0.5))
STRAIGHT_KICKS: tuple[Beats, ...] = (
    {D: ((0, 1.0),), M: ((0, 0.95),)},
    {D: ((0, 1.0),), M: ((0, 0.9), (1, 0.8))},
    {D: ((0, 1.0), (1, 0.7)), M: ((1, 0.85),)},
)
BACKBEAT: Beats = {B: ((0, 1.0),)}

DRUM_PATTERNS: dict[Feel, tuple[DrumPattern, ...]] = {
    Feel.STRAIGHT: tuple(DrumPattern(kick, BACKBEAT, EIGHTHS) for kick in STRAIGHT_KICKS),
    Feel.SHUFFLE: (
        DrumPattern({D: ((0, 1.0),), M: ((0, 0.95),)}, BACKBEAT, EIGHTHS),
        DrumPattern({D: ((0, 1.0),), M: ((0, 0.95),), B: ((1, 0.7),)}, BACKBEAT, EIGHTHS),
    ),
    Feel.TWO_BEAT: (
        DrumPattern(
            {D: ((0, 1.0),), M: ((0, 0.9),)}, {B: ((0, 0.7),)}, {B: ((0, 0.8),), O: ((0, 0.6),)}
        ),
    ),
    Feel.TRAIN_BEAT: (DrumPattern({D: ((0, 1.0),), M: ((0, 0.9),)}, {}, {B: ((0, 0.7),)}),),
    Feel.HALF_TIME: (
        DrumPattern({D: ((0, 1.0),)}, {B: ((0, 1.0),)}, EIGHTHS),
        DrumPattern({D: ((0, 1.0), (1, 0.7)), O: ((1, 0.8),)}, {B: ((0, 1.0),)}, EIGHTHS),
    ),
    Feel.WALTZ: (
        DrumPattern(
            {D: ((0, 1.0),), M: ((0, 0.9),)}, {O: ((0, 0.55),), B: ((0, 0.65),)}, _every((0, 0.7))
        ),
        DrumPattern(
            {D: ((0, 1.0),), M: ((0, 0.9),)},
            {B: ((0, 0.75),)},
            {D: ((0, 0.8),), M: ((0, 0.8),), O: ((0, 0.6), (1, 0.45)), B: ((0, 0.6),)},
        ),
    ),
    Feel.SIX_EIGHT: (
        DrumPattern(
            {D: ((0, 1.0),), M: ((0, 0.9),)}, BACKBEAT, _every((0, 0.85), (1, 0.5), (2, 0.55))
        ),
        DrumPattern(
            {D: ((0, 1.0), (2, 0.7)), M: ((0, 0.9),), B: ((2, 0.6),)},
            BACKBEAT,
            _every((0, 0.85), (1, 0.5), (2, 0.55)),
        ),
    ),
    Feel.TWELVE_EIGHT: (
        DrumPattern(
            {D: ((0, 1.0),), M: ((0, 0.95),), B: ((2, 0.7),)},
            BACKBEAT,
            _every((0, 0.85), (1, 0.5), (2, 0.55)),
        ),
    ),
}


class _Hit(NamedTuple):
    time: float
    key: int
    loudness: float


def _velocity(loudness: float, energy: float) -> int:
    return int(min(max(loudness, 0.05), 1.0) * (62 + 55 * energy))


def _pattern_hits(bar: TimelineBar, pattern: DrumPattern, cap: float) -> list[_Hit]:
    """The hits of a pattern in one bar; the section's energy, at most `cap`, chooses the drums."""
    energy = min(bar.energy, cap)
    snare = SNARE if energy >= 0.5 else SIDE_STICK
    cymbal = RIDE if energy >= FULL else CLOSED_HAT
    hits = []
    for point in bar.grid_points:
        for beats, key in ((pattern.kick, KICK), (pattern.snare, snare), (pattern.time, cymbal)):
            hits += [
                _Hit(point.time, key, loudness)
                for sub, loudness in beats.get(point.role, ())
                if sub == point.sub
            ]
    return hits


def _train_hits(bar: TimelineBar, seconds_per_quarter: float) -> list[_Hit]:
    """The running snare of a train beat.

    The eighths after each beat are accented; at fast tempos, which run in eighths, the backbeats
    are.
    """
    sixteenths = seconds_per_quarter >= TRAIN_SIXTEENTHS_S
    steps = (0.0, 0.25, 0.5, 0.75) if sixteenths else (0.0, 0.5)
    hits = []
    for cell in bar.cells:
        for step in steps:
            accented = step == 0.5 if sixteenths else step == 0.0 and cell.role is Role.BACK
            hits.append(_Hit(bar.start + cell.start + step, SNARE, 0.8 if accented else 0.35))
    return hits


def _fill_hits(bar: TimelineBar, rng: random.Random) -> tuple[float, list[_Hit]]:
    """Where a fill into the next section starts, and its hits: the last half of the bar."""
    count = len(bar.cells)
    first = count - max(1, min(2, count // 2))
    start = bar.start + bar.cells[first].start
    grid_points = [point for point in bar.grid_points if point.cell >= first]
    drums = rng.choice(((SNARE, HIGH_TOM, MID_TOM, LOW_TOM), (SNARE, SNARE, MID_TOM, LOW_TOM)))
    hits = [_Hit(start, KICK, 0.8)]
    for place, point in enumerate(grid_points):
        key = drums[place * len(drums) // len(grid_points)]
        hits.append(_Hit(point.time, key, 0.65 + 0.3 * place / len(grid_points)))
    return start, hits


def _wants_fill(bar: TimelineBar, following: TimelineBar | None) -> bool:
    """Whether a bar has a fill: the last bar of a section does, if another section follows."""
    return bar.last_in_section and following is not None and bar.end - bar.start >= 2


def _light(grid_points: tuple[GridPoint, ...]) -> list[_Hit]:
    """Hits that keep time on the hi-hat where there is no chord."""
    return [_Hit(point.time, CLOSED_HAT, 0.45) for point in grid_points if point.sub == 0]


def _obey(span: ChordSpan, hits: list[_Hit], crash: bool, cymbal: int) -> list[_Hit]:
    """The hits of a chord span, changed as its articulation asks.

    `hits` are those of the pattern within the span as written; `crash` is whether a crash cymbal is
    due.
    """
    if span.chord is None:
        return _light(
            tuple(s for s in (span.first, *span.grid_points) if s.time >= span.start - NEAR)
        )
    if span.articulation is Articulation.CHOKE:
        return [_Hit(span.start, key, 0.95) for key in (KICK, SNARE)]
    if span.articulation is Articulation.HOLD:
        return [_Hit(span.start, KICK, 1.0), _Hit(span.start, CRASH if crash else cymbal, 0.9)]
    if span.pushed:
        late = span.written_start + CLEAR_AFTER
        hits = [hit for hit in hits if hit.key != KICK or hit.time > late]
        hits.append(_Hit(span.start, KICK, 1.0))
    if crash:
        hits = [
            hit for hit in hits if hit.time > span.start + NEAR or hit.key not in (CLOSED_HAT, RIDE)
        ]
        hits.append(_Hit(span.start, CRASH, 0.9))
    return hits


def _rings_into(hit: _Hit, chokes: list[float]) -> bool:
    """Whether a cymbal struck at this hit would still be heard when everyone is choked."""
    rings = STILL_RINGS.get(hit.key, 0.0)
    return any(hit.time - NEAR <= choke < hit.time + rings - NEAR for choke in chokes)


def _end(hit: _Hit, span: ChordSpan) -> float:
    """The end of a hit in quarters.

    A hit ends with its span at the latest. One that keeps time after the next chord was pushed in
    has its own length.
    """
    if hit.time < span.end - NEAR:
        return min(hit.time + RING.get(hit.key, DRY), span.end)
    return hit.time + DRY


def _bar_hits(
    bar: TimelineBar,
    following: TimelineBar | None,
    pattern: DrumPattern,
    cap: float,
    seconds_per_quarter: float,
    rng: random.Random,
) -> list[_Hit]:
    """The hits of a bar before any articulation is looked at."""
    hits = _pattern_hits(bar, pattern, cap)
    if bar.feel is Feel.TRAIN_BEAT:
        hits += _train_hits(bar, seconds_per_quarter)
    if _wants_fill(bar, following):
        start, fill = _fill_hits(bar, rng)
        hits = [hit for hit in hits if hit.time < start - NEAR] + fill
    return hits


def play_drums(
    timeline: Timeline, seconds_per_quarter: float, rng: random.Random, light: bool = False
) -> list[Attack]:
    """The attacks of the drums.

    `light` keeps them under the fullest level, as in a small band.
    """
    patterns = {feel: rng.choice(choices) for feel, choices in DRUM_PATTERNS.items()}
    cap = FULL - 0.01 if light else 1.0
    by_bar: dict[int, list[ChordSpan]] = {}
    for span in timeline.spans:
        by_bar.setdefault(span.bar.number, []).append(span)
    chokes = [span.start for span in timeline.spans if span.articulation is Articulation.CHOKE]
    attacks: list[Attack] = []
    for bar, following in zip(timeline.bars, (*timeline.bars[1:], None), strict=True):
        plain = _bar_hits(bar, following, patterns[bar.feel], cap, seconds_per_quarter, rng)
        energy = min(bar.energy, cap)
        cymbal = RIDE if energy >= FULL else CLOSED_HAT
        for place, span in enumerate(by_bar[bar.number]):
            # Time kept before a later push stays, what the push displaces goes.
            inside = [
                hit
                for hit in plain
                if span.written_start - NEAR <= hit.time < span.written_end - NEAR
                and (hit.time < span.end - NEAR or hit.key in (CLOSED_HAT, RIDE))
            ]
            crash = place == 0 and bar.first_in_section and span.chord is not None
            for hit in _obey(span, inside, crash, cymbal):
                if _rings_into(hit, chokes):
                    hit = hit._replace(key=CLOSED_HAT)
                velocity = _velocity(hit.loudness, energy)
                end = _end(hit, span)
                attacks.append(Attack(hit.time, end, (hit.key,), velocity, span.start))
    return attacks
