"""Short answers to the singer: a line of chord tones in the gap at the end of a phrase.

Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.band.drum_patterns import HIGH_TOM, LOW_TOM, MID_TOM, SNARE
from trainer.band.humanize import Attack
from trainer.band.timeline import ChordSpan, GridPoint, Timeline, TimelineBar
from trainer.chart import Articulation

__all__ = ["play_answers"]

# The pitches between which each player answers.
REGISTERS = {"guitar": (62, 79), "keys": (67, 84), "lead": (67, 84), "bass": (40, 55)}
TOMS = (SNARE, HIGH_TOM, MID_TOM, LOW_TOM)
VELOCITY, LOUDER_WITH_ENERGY = 78, 24
# Up and down, as places among the chord tones from the middle of the register.
CONTOURS = ((2, 1, 0, -1), (0, 1, 2, 1), (1, 2, 1, 0), (0, -1, 0, 1))
DRUM_QUARTERS = 0.25
NEAR = 1e-6


def play_answers(
    called: str, attacks: list[Attack], timeline: Timeline, answering: Sequence[bool]
) -> list[Attack]:
    """The attacks of a player with an answer in the gaps of the bars that have one.

    `answering` is whether they answer, bar by bar. What they would have played there gives way.
    """
    if called not in REGISTERS and called != "drums":
        return attacks
    for number, phrase in enumerate(timeline.phrases):
        bar, span = phrase.bars[-1], phrase.spans[-1]
        points = _gap(bar, span) if answering[bar.number - 1] else ()
        if not points:
            continue
        start = points[0].time
        kept = [each for each in attacks if not start - NEAR <= each.start < span.end - NEAR]
        held = [
            each._replace(end=start) if each.start < start - NEAR < each.end - 2 * NEAR else each
            for each in kept
        ]
        attacks = held + _answer(called, span, points, number)
    return sorted(attacks, key=lambda attack: attack.start)


def _gap(bar: TimelineBar, span: ChordSpan) -> tuple[GridPoint, ...]:
    """The grid points of the last half of a bar that lie in its last chord, after its beginning."""
    if span.chord is None or span.articulation in (Articulation.HOLD, Articulation.CHOKE):
        return ()
    half = (bar.start + bar.end) / 2
    return tuple(point for point in span.grid_points if point.time >= half - NEAR)


def _answer(
    called: str, span: ChordSpan, points: tuple[GridPoint, ...], number: int
) -> list[Attack]:
    velocity = int(VELOCITY + LOUDER_WITH_ENERGY * span.bar.energy)
    ends = [point.time for point in points[1:]] + [span.end]
    if called == "drums":
        return [
            Attack(point.time, point.time + DRUM_QUARTERS, (TOMS[k * 4 // len(points)],), velocity,
                   span.start)
            for k, point in enumerate(points)
        ]  # fmt: skip
    low, high = REGISTERS[called]
    # The triad: a seventh or ninth that stands out makes another chord of it.
    pitches = [pitch for pitch in range(low, high + 1) if pitch % 12 in span.tones[:3]]
    middle, contour = len(pitches) // 2, CONTOURS[number % len(CONTOURS)]
    places = [middle + contour[k % len(contour)] for k in range(len(points))]
    line = [pitches[max(0, min(place, len(pitches) - 1))] for place in places]
    return [
        Attack(point.time, end, (pitch,), velocity, span.start)
        for point, end, pitch in zip(points, ends, line, strict=True)
    ]
