"""The drums: a groove for each kind of section, fills into new ones, the chart's articulations.

`drum_patterns` holds what is played and `fills` what marks the ends; this module puts them together
and obeys the chart.
"""

from __future__ import annotations

import random

from trainer.band.drum_patterns import (
    CLOSED_HAT,
    CRASH,
    HIGH_TOM,
    KICK,
    LOW_TOM,
    MID_TOM,
    OPEN_HAT,
    RIDE,
    SIDE_STICK,
    SNARE,
    Beats,
    DrumPlan,
    Groove,
)
from trainer.band.feels import Role
from trainer.band.fills import Hit, mark_ending, play_fill, wants_fill
from trainer.band.humanize import Attack
from trainer.band.stop_time import silent_stops
from trainer.band.timeline import CLEAR_AFTER, ChordSpan, GridPoint, Timeline, TimelineBar
from trainer.chart import Articulation, Feel

__all__ = ["CLOSED_HAT", "CRASH", "HIGH_TOM", "KICK", "LOW_TOM", "MID_TOM", "OPEN_HAT", "RIDE"]
__all__ += ["SIDE_STICK", "SNARE", "play_drums"]

RING = {CRASH: 4.0, RIDE: 1.0, OPEN_HAT: 0.5}
# Quarters before a choke or a silent bar from which a cymbal is left alone: synths let it ring to
# its own end.
STILL_RINGS = {CRASH: 8.0, RIDE: 4.0, OPEN_HAT: 2.0}
TIME_KEYS = (CLOSED_HAT, RIDE, OPEN_HAT)
DRY = 0.25
# A small band's drums are played with so much of the energy of the section.
LIGHT_SHARE = 0.85
# From this many seconds a cell on, a train beat runs in sixteenths, faster in eighths.
TRAIN_SIXTEENTHS_S = 0.42
NEAR = 1e-6


def _velocity(loudness: float, energy: float) -> int:
    return int(min(max(loudness, 0.05), 1.0) * (62 + 55 * energy))


def _groove_hits(bar: TimelineBar, groove: Groove) -> list[Hit]:
    """The hits of a groove in one bar."""
    limbs: tuple[tuple[Beats, int], ...] = (
        (groove.kicks[bar.stretch_index % len(groove.kicks)], KICK),
        (groove.snare, groove.snare_key),
        (groove.ghosts, SNARE),
        (groove.time, groove.cymbal),
    )
    return [
        Hit(point.time, key, loudness)
        for point in bar.grid_points
        for beats, key in limbs
        for sub, loudness in beats.get(point.role, ())
        if sub == point.sub
    ]


def _train_hits(bar: TimelineBar, seconds_per_quarter: float, accent: int) -> list[Hit]:
    """The running snare of a train beat.

    The eighths after each beat are accented, with `accent` 1 also the backbeats, with 2 also the
    stroke before the bar line; at fast tempos, which run in eighths, the backbeats are.
    """
    sixteenths = seconds_per_quarter >= TRAIN_SIXTEENTHS_S
    steps = (0.0, 0.25, 0.5, 0.75) if sixteenths else (0.0, 0.5)
    hits = []
    for number, cell in enumerate(bar.cells):
        for step in steps:
            back = step == 0.0 and cell.role is Role.BACK
            last = step == steps[-1] and number == len(bar.cells) - 1
            accented = step == 0.5 or (accent == 1 and back) if sixteenths else back
            accented = accented or (accent == 2 and last and bar.stretch_index % 2 == 1)
            hits.append(Hit(bar.start + cell.start + step, SNARE, 0.8 if accented else 0.35))
    return hits


def _light(grid_points: tuple[GridPoint, ...]) -> list[Hit]:
    """Hits that keep time on the hi-hat where there is no chord."""
    return [Hit(point.time, CLOSED_HAT, 0.45) for point in grid_points if point.sub == 0]


def _obey(span: ChordSpan, hits: list[Hit], crash: bool, cymbal: int) -> list[Hit]:
    """The hits of a chord span, changed as its articulation asks.

    `hits` are those of the pattern within the span as written; `crash` is whether a crash cymbal is
    due.
    """
    if span.chord is None:
        return _light(
            tuple(s for s in (span.first, *span.grid_points) if s.time >= span.start - NEAR)
        )
    if span.articulation is Articulation.CHOKE:
        return [Hit(span.start, key, 0.95) for key in (KICK, SNARE)]
    if span.articulation is Articulation.HOLD:
        return [Hit(span.start, KICK, 1.0), Hit(span.start, CRASH if crash else cymbal, 0.9)]
    if span.pushed:
        late = span.written_start + CLEAR_AFTER
        hits = [hit for hit in hits if hit.key != KICK or hit.time > late]
        hits.append(Hit(span.start, KICK, 1.0))
    if crash:
        hits = [hit for hit in hits if hit.time > span.start + NEAR or hit.key not in TIME_KEYS]
        hits.append(Hit(span.start, CRASH, 0.9))
    return hits


def _rings_into(hit: Hit, chokes: list[float]) -> bool:
    """Whether a cymbal struck at this hit would still be heard when everyone stops."""
    rings = STILL_RINGS.get(hit.key, 0.0)
    return any(hit.time - NEAR <= choke < hit.time + rings - NEAR for choke in chokes)


def _end(hit: Hit, span: ChordSpan) -> float:
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
    groove: Groove,
    seconds_per_quarter: float,
    seed: int,
) -> list[Hit]:
    """The hits of a bar before any articulation is looked at."""
    hits = _groove_hits(bar, groove)
    if bar.feel is Feel.TRAIN_BEAT:
        hits += _train_hits(bar, seconds_per_quarter, groove.train_accent)
    if following is not None and wants_fill(bar, following):
        start, fill = play_fill(bar, following, seconds_per_quarter, _draw(seed, bar))
        return [hit for hit in hits if hit.time < start - NEAR] + fill
    if bar.last_in_stretch and following is not None:
        return mark_ending(bar, hits, _draw(seed, bar))
    return hits


def _draw(seed: int, bar: TimelineBar) -> random.Random:
    """A bar's own chance: what is drawn in it does not depend on what other bars hold."""
    return random.Random(f"{seed} {bar.number}")


def play_drums(
    timeline: Timeline, seconds_per_quarter: float, rng: random.Random, light: bool = False
) -> list[Attack]:
    """The attacks of the drums; `light` keeps them softer, as in a small band."""
    seed = rng.getrandbits(32)
    plan = DrumPlan(seed, light)
    by_bar: dict[int, list[ChordSpan]] = {}
    for span in timeline.spans:
        by_bar.setdefault(span.bar.number, []).append(span)
    chokes = [span.start for span in timeline.spans if span.articulation is Articulation.CHOKE]
    chokes += silent_stops(timeline)
    attacks: list[Attack] = []
    for bar, following in zip(timeline.bars, (*timeline.bars[1:], None), strict=True):
        groove = plan.groove(bar)
        plain = _bar_hits(bar, following, groove, seconds_per_quarter, seed)
        energy = bar.energy * LIGHT_SHARE if light else bar.energy
        for place, span in enumerate(by_bar[bar.number]):
            # Time kept before a later push stays, what the push displaces goes.
            inside = [
                hit
                for hit in plain
                if span.written_start - NEAR <= hit.time < span.written_end - NEAR
                and (hit.time < span.end - NEAR or hit.key in TIME_KEYS)
            ]
            crash = place == 0 and bar.first_in_section and span.chord is not None
            for hit in _obey(span, inside, crash, groove.cymbal):
                if _rings_into(hit, chokes):
                    hit = hit._replace(key=CLOSED_HAT)
                velocity = _velocity(hit.loudness, energy)
                end = _end(hit, span)
                attacks.append(Attack(hit.time, end, (hit.key,), velocity, span.start))
    return attacks
