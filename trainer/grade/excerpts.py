"""Choose what to hear again: an excerpt of bars that begins a bar early and is long enough to tell.

An excerpt lasts 5 to 15 seconds at the song's tempo, unless a song is shorter or a bar longer.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from trainer.chart.model import Chart
from trainer.grade.aligned import AlignedCharts
from trainer.grade.content import ChartContent

if TYPE_CHECKING:
    from trainer.grade.align_table import Pair

__all__ = ["LEAST_S", "MOST_S", "ExcerptFinder", "bar_durations_s", "excerpt_around"]

LEAST_S, MOST_S = 5.0, 15.0

# The first and the last bar, from 1.
Excerpt = tuple[int, int]


def bar_durations_s(content: ChartContent, chart: Chart) -> list[float]:
    """Return how long each bar lasts, in seconds, at the tempo of a chart."""
    quarter_s = 60.0 / (chart.tempo * float(chart.meter.pulse_quarters))
    meters = [bar.meter for bar in content.bars]
    # Most bars have one and the same meter: its identity is told quicker than its value.
    identities = list(map(id, meters))
    different = dict(zip(identities, meters, strict=True))
    durations_s = {
        number: 4 * meter.beats / meter.unit * quarter_s for number, meter in different.items()
    }
    return [durations_s[identity] for identity in identities]


def excerpt_around(durations_s: Sequence[float], first: int, last: int) -> Excerpt:
    """Return the excerpt for what begins at bar `first` and goes on to `last`, both from 1.

    `durations_s` has one entry a bar. The bar before comes with the excerpt. A long excerpt is cut
    off. A short one goes on past its end, or begins earlier at the end of the song.
    """
    first, last = first - 1, last - 1
    start = first - 1 if first and sum(durations_s[first - 1 : first + 1]) <= MOST_S else first
    end, duration_s = first, sum(durations_s[start : first + 1])
    while end + 1 < len(durations_s) and duration_s + durations_s[end + 1] <= MOST_S:
        if end >= last and duration_s >= LEAST_S:
            break
        end += 1
        duration_s += durations_s[end]
    while start and duration_s < LEAST_S and duration_s + durations_s[start - 1] <= MOST_S:
        start -= 1
        duration_s += durations_s[start]
    return start + 1, end + 1


class ExcerptFinder:
    """Finds excerpts of both charts for what is said about their bars."""

    def __init__(self, aligned: AlignedCharts, chart: Chart) -> None:
        """`chart` is the reference, for its tempo."""
        self._answer_bars, self._reference_bars = _bars_beside(aligned.pairs)
        self._reference_s = bar_durations_s(aligned.reference, chart)
        self._answer_s = bar_durations_s(aligned.answer, chart)

    def find(self, bars: Sequence[int], own: Sequence[int] = ()) -> tuple[Excerpt, Excerpt]:
        """Return an excerpt of either chart with the first run of bars.

        `bars` are of the reference; without any, the run is the first of `own`, bars of the answer.
        Bars count from 1, in order.
        """
        if not bars:
            beside = self._reference_bar_after(own[0])
            return (
                excerpt_around(self._reference_s, beside, beside),
                excerpt_around(self._answer_s, own[0], _run_end(own)),
            )
        first, last = bars[0], _run_end(bars)
        begins, ends = self._answer_bar_at(first), self._answer_bar_at(last)
        if ends < begins:
            ends = min(begins + last - first, len(self._answer_s))
        return (
            excerpt_around(self._reference_s, first, last),
            excerpt_around(self._answer_s, begins, ends),
        )

    def _answer_bar_at(self, bar: int) -> int:
        """Return the bar of the answer that stands for one of the reference, or comes next."""
        return min(self._answer_bars[bar - 1] + 1, len(self._answer_s))

    def _reference_bar_after(self, own: int) -> int:
        """Return the bar of the reference that comes next after a bar too many."""
        return min(self._reference_bars[own - 1] + 1, len(self._reference_s))


def _bars_beside(pairs: Sequence[Pair]) -> tuple[dict[int, int], dict[int, int]]:
    """Return for each bar of either chart the bar of the other that stands there or comes next.

    First come the bars of the answer by those of the reference, then the other way round. Bars
    count from 0.
    """
    own_bars: dict[int, int] = {}
    song_bars: dict[int, int] = {}
    after = before = 0
    for one, other in pairs:
        if one is not None:
            own_bars[one] = after if other is None else other
        if other is not None:
            song_bars[other] = before
            after = other + 1
        before = before if one is None else one + 1
    return own_bars, song_bars


def _run_end(bars: Sequence[int]) -> int:
    """Return the last of the bars that follow the first without a break."""
    last = bars[0]
    for bar in bars[1:]:
        if bar != last + 1:
            break
        last = bar
    return last
