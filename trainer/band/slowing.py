"""Where the notes of a chart slow the band down, and by how much.

A slowing begins at the bar of its note and grows evenly until the tempo is taken up again or the
section ends: there each beat lasts `SLOWEST` times as long (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from trainer.chart import Action, Chart, has_notes, read_band_words

__all__ = ["SLOWEST", "Slowing", "slowings"]

SLOWEST = 1.6
TAKEN_UP = (Action.A_TEMPO, Action.AS_BEFORE)


class Slowing(NamedTuple):
    """A slowing from `start` on, in quarters from the beginning of the arrangement, that is
    `length` quarters long."""

    start: float
    length: float

    def later(self, quarters: float) -> float:
        """By how many quarters of the usual tempo a time is later for it."""
        share = min(max((quarters - self.start) / self.length, 0.0), 1.0)
        return (SLOWEST - 1.0) * self.length * share * share / 2.0


def slowings(chart: Chart, lead_in: float = 0.0) -> tuple[Slowing, ...]:
    """The slowings of a chart whose first bar begins after a lead-in, in quarters."""
    if not has_notes(chart):
        return ()
    return tuple(
        Slowing(lead_in + start, end - start) for start, end in _stretches(chart) if end > start
    )


def _stretches(chart: Chart) -> Iterator[tuple[float, float]]:
    """Where each slowing begins and ends, in quarters from the first bar line."""
    begun: float | None = None
    end = 0.0
    for place in chart.placed_bars():
        at = float(place.start_quarters)
        section = chart.sections[place.section]
        is_first = place.phrase == place.index == 0
        if is_first and begun is not None:
            yield begun, at
            begun = None
        for note in (*(section.notes if is_first else ()), *place.bar.notes):
            for action, _ in read_band_words(note):
                if action is Action.SLOW_DOWN and begun is None:
                    begun = at
                elif action in TAKEN_UP and begun is not None:
                    yield begun, at
                    begun = None
        end = at + float(place.bar.meter.quarters)
    if begun is not None:
        yield begun, end
