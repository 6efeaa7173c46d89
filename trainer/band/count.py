"""What comes before the first bar: the tonic chord for the ear, and the count-off."""

from __future__ import annotations

from trainer.band.drums import SIDE_STICK
from trainer.band.feels import cells, is_compound
from trainer.band.human import Gesture
from trainer.chart.model import Chart

__all__ = ["HOME", "play_count", "play_tonic"]

HOME = (0, 4, 7)
HOME_MINOR = (0, 3, 7)
TONIC_LOW = 48
CLICK_QUARTERS = 0.2


def _clicks(chart: Chart) -> list[tuple[float, bool]]:
    """Where the sticks click in the count-off bar, and which clicks are accented.

    Quarters in simple meters; eighths in 6/8 and odd meters, where a bar has few pulses; pulses in
    9/8 and 12/8 (common practice).
    """
    bar = cells(chart.feel, chart.meter)
    by_pulse = chart.meter.unit <= 4 or (is_compound(chart.meter) and len(bar) > 2)
    return [
        (cell.start + sub, place == 0)
        for cell in bar
        for place, sub in enumerate(cell.subs[:1] if by_pulse else cell.subs)
    ]


def play_count(chart: Chart, start: float) -> list[Gesture]:
    """One bar of stick clicks from `start`."""
    bar_end = start + float(chart.meter.quarters)
    return [
        Gesture(
            start + at,
            min(start + at + CLICK_QUARTERS, bar_end),
            (SIDE_STICK,),
            112 if accented else 92,
            start + at,
        )
        for at, accented in _clicks(chart)
    ]


def play_tonic(chart: Chart, start: float) -> list[Gesture]:
    """The chord of the 1 held for a bar from `start`: home, before anything is counted."""
    root = TONIC_LOW + chart.key.pitch_class
    steps = HOME_MINOR if chart.key.minor else HOME
    end = start + float(chart.meter.quarters)
    return [Gesture(start, end, (root - 12, *(root + step for step in steps)), 84, start)]
