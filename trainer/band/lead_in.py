"""What sounds before the first bar, and the single chords by which a listener finds the key.

The count-off is a bar of stick clicks. The tonic chord sets the ear to the key; it is played
before the count-off or by itself. The level-check chord is a soft one to set the volume with.
"""

from __future__ import annotations

import random

from trainer.band.drums import SIDE_STICK
from trainer.band.feels import cells, is_compound
from trainer.band.humanize import Attack, PerformanceTiming, humanize
from trainer.band.parts import Arrangement, Note, Part, TempoMap
from trainer.chart import Chart

__all__ = [
    "TONIC_TRIAD",
    "level_check_chord",
    "play_count_off",
    "play_tonic",
    "tonic_chord",
]

PIANO, WARM_PAD = 0, 89
# A wide, low C chord: neither bright nor sudden.
LEVEL_CHECK_PITCHES = (48, 55, 60, 64)
LEVEL_CHECK_QUARTERS = 12.0
TONIC_TRIAD = (0, 4, 7)
TONIC_TRIAD_MINOR = (0, 3, 7)
TONIC_LOW = 48
CLICK_QUARTERS = 0.2


def _clicks(chart: Chart) -> list[tuple[float, bool]]:
    """The times of the clicks in the count-off bar, in quarters, and whether each is accented.

    Clicks fall on quarters in simple meters, on eighths in 6/8 and odd meters (where a bar has few
    pulses), on pulses in 9/8 and 12/8 (common practice).
    """
    bar = cells(chart.feel, chart.meter)
    by_pulse = chart.meter.unit <= 4 or (is_compound(chart.meter) and len(bar) > 2)
    return [
        (cell.start + sub, place == 0)
        for cell in bar
        for place, sub in enumerate(cell.subs[:1] if by_pulse else cell.subs)
    ]


def play_count_off(chart: Chart, start: float, bars: int = 1) -> list[Attack]:
    """The attacks of some bars of stick clicks from `start`, in quarters.

    Bars before the last have every other click only, as a drummer counts "one, two, one two three
    four".
    """
    attacks = []
    for number in range(bars):
        first = start + number * float(chart.meter.quarters)
        clicks = _clicks(chart)
        halved = number < bars - 1 and len(clicks) % 2 == 0
        attacks += [
            Attack(
                first + at,
                min(first + at + CLICK_QUARTERS, first + float(chart.meter.quarters)),
                (SIDE_STICK,),
                112 if accented else 92,
                first + at,
            )
            for at, accented in clicks[:: 2 if halved else 1]
        ]
    return attacks


def play_tonic(chart: Chart, start: float) -> list[Attack]:
    """The attack of the 1 chord, held for a bar from `start`, in quarters."""
    root = TONIC_LOW + chart.key.pitch_class
    steps = TONIC_TRIAD_MINOR if chart.key.minor else TONIC_TRIAD
    end = start + float(chart.meter.quarters)
    return [Attack(start, end, (root - 12, *(root + step for step in steps)), 84, start)]


def tonic_chord(chart: Chart) -> Arrangement:
    """An arrangement of the 1 chord of the chart's first key, held for a bar."""
    tempo_map = TempoMap.of(chart)
    length = float(chart.meter.quarters)
    timing = PerformanceTiming(0.0, tempo_map.seconds_per_quarter, 0.0, float("inf"))
    notes = humanize(play_tonic(chart, 0.0), timing, random.Random(0))
    return _alone(Part("home", PIANO, False, notes, level=92), tempo_map, length)


def level_check_chord() -> Arrangement:
    """An arrangement of one soft pad chord that lasts twelve seconds."""
    notes = tuple(Note(0.0, LEVEL_CHECK_QUARTERS, pitch, 64) for pitch in LEVEL_CHECK_PITCHES)
    return _alone(Part("pad", WARM_PAD, False, notes), TempoMap(1.0), LEVEL_CHECK_QUARTERS)


def _alone(part: Part, tempo_map: TempoMap, length: float) -> Arrangement:
    """An arrangement of one part without bars."""
    return Arrangement((part,), (), tempo_map, 0.0, length)
