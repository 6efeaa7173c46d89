"""What a band does where the chart has no chord, and what it does to the end of a song that fades.

In a bar without a chord everybody stops. A drummer keeps the hi-hat going softly, so that the bars
can be counted (`drums`); who plays alone taps a foot. Common practice, no source.

A fade is made by the volume of all players at once, so that held notes fade as well.
"""

from __future__ import annotations

from trainer.band.humanize import Attack
from trainer.band.parts import VolumeStep
from trainer.band.timeline import ChordSpan, Timeline

__all__ = ["fade_steps", "play_foot", "silent_stops"]

FOOT = 35
FOOT_VELOCITY, FOOT_QUARTERS = 58, 0.2
LOUDEST = 127
NEAR = 1e-6


def silent_stops(timeline: Timeline) -> list[float]:
    """When the band stops for a stretch without a chord, in quarters."""
    before: ChordSpan | None = None
    stops = []
    for span in timeline.spans:
        if span.chord is None and before is not None and before.chord is not None:
            stops.append(span.start)
        before = span
    return stops


def play_foot(timeline: Timeline) -> list[Attack]:
    """Taps of a foot on the beats where there is no chord; none in a song that never stops."""
    return [
        Attack(point.time, point.time + FOOT_QUARTERS, (FOOT,), FOOT_VELOCITY, span.start)
        for span in timeline.spans
        if span.chord is None
        for point in (span.first, *span.grid_points)
        if point.sub == 0 and point.time >= span.start - NEAR
    ]


def fade_steps(start: float, end: float) -> tuple[VolumeStep, ...]:
    """The volume from `start`, where it is full, to `end` in quarters, where it is nothing.

    The amplitude falls evenly, so that the chords can be heard until near the end: a volume v has
    the amplitude (v/127)² (SoundFont 2.04, section 8.4).
    """
    return tuple(
        VolumeStep(start + (end - start) * (1 - (value / LOUDEST) ** 2), value)
        for value in range(LOUDEST - 1, -1, -1)
    )
