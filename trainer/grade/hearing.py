"""What to hear again: a stretch of bars that begins a bar early and lasts long enough to tell.

A stretch lasts 5 to 15 seconds at the song's tempo, except where a song is shorter or a bar longer.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.chart.model import Chart
from trainer.grade.scoring import Scored
from trainer.grade.sheet import Sheet

__all__ = ["LEAST_S", "MOST_S", "Hearing", "bar_seconds", "stretch"]

LEAST_S, MOST_S = 5.0, 15.0

Bars = tuple[int, int]


def bar_seconds(sheet: Sheet, chart: Chart) -> list[float]:
    """How long each bar lasts at the tempo of a chart."""
    quarter_s = 60.0 / (chart.tempo * float(chart.meter.pulse_quarters))
    return [4 * bar.meter.beats / bar.meter.unit * quarter_s for bar in sheet.bars]


def stretch(lasts_s: Sequence[float], first: int, last: int) -> Bars:
    """The bars to hear for what begins at bar `first` and goes on to `last`, all from 1.

    The bar before comes with it; a long matter is cut off, a short one goes on past its end, or
    begins earlier at the end of the song.
    """
    first, last = first - 1, last - 1
    start = first - 1 if first and sum(lasts_s[first - 1 : first + 1]) <= MOST_S else first
    end, lasts = first, sum(lasts_s[start : first + 1])
    while end + 1 < len(lasts_s) and lasts + lasts_s[end + 1] <= MOST_S:
        if end >= last and lasts >= LEAST_S:
            break
        end += 1
        lasts += lasts_s[end]
    while start and lasts < LEAST_S and lasts + lasts_s[start - 1] <= MOST_S:
        start -= 1
        lasts += lasts_s[start]
    return start + 1, end + 1


class Hearing:
    """Finds stretches of both charts for what is said about their bars."""

    def __init__(self, view: Scored, chart: Chart) -> None:
        """`chart` is the reference, for its tempo."""
        self._view = view
        self._ours = bar_seconds(view.reference, chart)
        self._theirs = bar_seconds(view.answer, chart)

    def of(self, bars: Sequence[int], own: Sequence[int] = ()) -> tuple[Bars, Bars]:
        """Where to hear the first run of bars of the reference, or of the answer if there is none.

        Bars count from 1, in order. Returns a stretch of either chart.
        """
        if not bars:
            last = _run_end(own)
            return (
                stretch(self._ours, *([self._beside(own[0])] * 2)),
                stretch(self._theirs, own[0], last),
            )
        first, last = bars[0], _run_end(bars)
        begins, ends = self._written(first), self._written(last)
        if ends < begins:
            ends = min(begins + last - first, len(self._theirs))
        return stretch(self._ours, first, last), stretch(self._theirs, begins, ends)

    def _written(self, bar: int) -> int:
        """The bar of the answer that stands for one of the reference, or comes next."""
        after = 0
        for one, other in self._view.pairs:
            if one == bar - 1:
                after = after if other is None else other
                break
            after = after if other is None else other + 1
        return min(after + 1, len(self._theirs))

    def _beside(self, own: int) -> int:
        """The bar of the reference that comes next after a bar too many."""
        before = 0
        for one, other in self._view.pairs:
            if other == own - 1:
                break
            before = before if one is None else one + 1
        return min(before + 1, len(self._ours))


def _run_end(bars: Sequence[int]) -> int:
    """The last of the bars that follow the first without a break."""
    last = bars[0]
    for bar in bars[1:]:
        if bar != last + 1:
            break
        last = bar
    return last
