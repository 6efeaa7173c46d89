"""The speed self-test's results as they are shown."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.practice import SpeedHistory, SpeedResult, describe_standing
from trainer.web.formatting import local_day, moment, percent, short_day
from trainer.web.views.plots import SHARES, Plot, Point, line
from trainer.web.views.spans import Span

__all__ = ["SpeedView", "speed_in_span", "speed_view"]

# So many of the last results are drawn; the table has them all.
DRAWN = 40


HEADS = ("When", "Kept up with", "Right in the end", "Beats behind")


@dataclass(frozen=True, slots=True)
class SpeedView:
    """The last result, the best, what the last is worth among the rest, and all drawn.

    `uncounted` says why a test that was written after all of these does not count, "" without one.
    """

    last: SpeedResult | None
    best: SpeedResult | None
    standing: str
    plot: Plot | None
    uncounted: str = ""


def speed_view(history: SpeedHistory, uncounted: str = "") -> SpeedView:
    """What a history says."""
    if not history.results:
        return SpeedView(None, None, "", None, uncounted)
    last, plot = history.results[-1], _plot(history.results)
    return SpeedView(last, history.best, describe_standing(history), plot, uncounted)


def speed_in_span(history: SpeedHistory, span: Span) -> Plot | None:
    """The tests of a range of time by their days, of each stretch the best; None without any."""
    inside = [each for each in history.results if span.since <= local_day(each.at) <= span.until]
    if not inside:
        return None
    best: dict[int, float] = {}
    for each in inside:
        piece = span.piece(local_day(each.at))
        best[piece] = max(best.get(piece, 0.0), each.kept_up)
    points = [Point(label, best.get(k)) for k, label in enumerate(span.labels())]
    title = "Bars kept up with" if span.step == 1 else "Bars kept up with, the best test"
    return line("speed", title, _summary(inside), points, SHARES, HEADS, _rows(inside))


def _plot(results: Sequence[SpeedResult]) -> Plot:
    points = [Point(short_day(local_day(each.at)), each.kept_up) for each in results[-DRAWN:]]
    summary, rows = _summary(results), _rows(results)
    return line("speed", "Bars kept up with", summary, points, SHARES, HEADS, rows)


def _summary(results: Sequence[SpeedResult]) -> str:
    first, last = results[0], results[-1]
    best = max(each.kept_up for each in results)
    return (
        f"{len(results)} test{'s' * (len(results) != 1)}: the first {percent(first.kept_up)}, "
        f"the best {percent(best)}, the last {percent(last.kept_up)}."
    )


def _rows(results: Sequence[SpeedResult]) -> list[tuple[str, ...]]:
    return [
        (moment(each.at), percent(each.kept_up), percent(each.right), _lag(each))
        for each in reversed(results)
    ]


def _lag(result: SpeedResult) -> str:
    return "–" if result.lag_beats is None else f"{result.lag_beats:.1f}"
