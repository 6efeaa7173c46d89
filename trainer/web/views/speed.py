"""The speed self-test's results as they are shown."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.practice import SpeedHistory, SpeedResult
from trainer.web.views.plots import SHARES, Plot, Point, line, percent

__all__ = ["SpeedView", "speed_view", "why_not"]

# So many of the last results are drawn; the table has them all.
DRAWN = 40


@dataclass(frozen=True, slots=True)
class SpeedView:
    """The last result, the best, what the last is worth among the rest, and all drawn."""

    last: SpeedResult | None
    best: SpeedResult | None
    standing: str
    plot: Plot | None


def speed_view(history: SpeedHistory) -> SpeedView:
    """What a history says."""
    if not history.results:
        return SpeedView(None, None, "", None)
    return SpeedView(history.results[-1], history.best, _standing(history), _plot(history))


def why_not(listens: int, paused: bool, tempo_ratio: float, is_timed: bool) -> str:
    """Why an attempt does not count as a self-test, "" if it does."""
    if listens != 1:
        return f"it was played {listens} times, not once" if listens else "it was not played"
    if paused:
        return "the band was stopped on the way"
    if tempo_ratio != 1:
        return "it was slowed down"
    return "" if is_timed else "when it was written is not known"


def _standing(history: SpeedHistory) -> str:
    if history.percentile is None:
        return "Your first: the next ones are held against it."
    if history.is_best:
        return "Your best so far."
    return f"Better than {history.percentile:.0f} % of your earlier tests."


def _plot(history: SpeedHistory) -> Plot:
    results = history.results
    rows = [
        (_moment(each), percent(each.kept_up), percent(each.right), _lag(each))
        for each in reversed(results)
    ]
    points = [Point(_day(each), each.kept_up) for each in results[-DRAWN:]]
    first, last = results[0], results[-1]
    best = max(each.kept_up for each in results)
    summary = (
        f"{len(results)} test{'s' * (len(results) != 1)}: the first {percent(first.kept_up)}, "
        f"the best {percent(best)}, the last {percent(last.kept_up)}."
    )
    heads = ("When", "Kept up with", "Right in the end", "Beats behind")
    return line("speed", "Bars kept up with", summary, points, SHARES, heads, rows)


def _lag(result: SpeedResult) -> str:
    return "–" if result.lag_beats is None else f"{result.lag_beats:.1f}"


def _day(result: SpeedResult) -> str:
    local = result.at.astimezone()
    return f"{local.day} {local:%b}"


def _moment(result: SpeedResult) -> str:
    local = result.at.astimezone()
    return f"{local.day} {local:%b %Y, %H:%M}"
