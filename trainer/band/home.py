"""Single chords to take bearings by: home, and a calm one to set the volume with."""

from __future__ import annotations

import random

from trainer.band.count import play_tonic
from trainer.band.human import Hands, perform
from trainer.band.parts import Arrangement, Clock, Note, Part
from trainer.chart.model import Chart

__all__ = ["calm_chord", "home_chord"]

PIANO, WARM_PAD = 0, 89
# A wide, low C chord: neither bright nor sudden.
CALM = (48, 55, 60, 64)
CALM_QUARTERS = 12.0


def home_chord(chart: Chart) -> Arrangement:
    """The chord of the 1 in the chart's first key, for a bar; as it sounds before a song."""
    clock = Clock.of(chart)
    length = float(chart.meter.quarters)
    hands = Hands(0.0, clock.seconds_per_quarter, 0.0, float("inf"))
    notes = perform(play_tonic(chart, 0.0), hands, random.Random(0))
    return _alone(Part("home", PIANO, False, notes, level=92), clock, length)


def calm_chord() -> Arrangement:
    """A soft pad chord of twelve seconds."""
    notes = tuple(Note(0.0, CALM_QUARTERS, pitch, 64) for pitch in CALM)
    return _alone(Part("pad", WARM_PAD, False, notes), Clock(1.0), CALM_QUARTERS)


def _alone(part: Part, clock: Clock, length: float) -> Arrangement:
    """One part and no bars."""
    return Arrangement((part,), (), clock, 0.0, length)
