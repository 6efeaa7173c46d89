"""The speed self-test: the same protocol each time, compared with earlier results."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fastapi import APIRouter
from fastapi.responses import RedirectResponse, Response

from trainer.drill import SPEED_TEST, exercise_kinds, find_result
from trainer.exercise import new_seed
from trainer.practice import (
    SpeedHistory,
    SpeedResult,
    describe_standing,
    speed_history,
    speed_test,
)
from trainer.web.context import Context, LearnerContext
from trainer.web.formatting import local_day, moment, percent, short_day
from trainer.web.views.periods import Period
from trainer.web.views.plots import SHARES, Plot, Point, line

__all__ = ["SpeedView", "router", "speed_in_period", "speed_view"]

router = APIRouter(prefix="/speed")
SEE_OTHER = 303
# A test that does not count is mentioned while it is among this many of the latest attempts.
NEWEST = 10
# How many of the last results are drawn; the table has them all.
DRAWN = 40
HEADERS = ("When", "Kept up with", "Right by the end", "Beats behind")


@dataclass(frozen=True, slots=True)
class SpeedView:
    """The last result, the best, what the last is worth among the rest, and all drawn.

    `disqualification` says why a test that was written after all of these does not count, "" if
    there is none.
    """

    last: SpeedResult | None
    best: SpeedResult | None
    standing: str
    plot: Plot | None
    disqualification: str = ""


@router.get("")
def speed(context: Context) -> Response:
    """What the test is, and the results so far."""
    history = speed_history(context.store.ratings.speed(context.learner))
    view = speed_view(history, _why_not_counted(context, history))
    return context.page("speed.html", {"view": view})


def _why_not_counted(context: LearnerContext, history: SpeedHistory) -> str:
    """Why the last test does not count, "" if it does or there is none."""
    newest = context.store.attempts.history(context.learner, limit=NEWEST)
    kinds = exercise_kinds(context.store, context.learner, newest)
    test = next((one for one in newest if kinds.get(one.exercise_id) == SPEED_TEST), None)
    if test is None or any(test.finished_at == each.at for each in history.results):
        return ""
    found = find_result(context.store, context.learner, test.id)
    return found.why_no_test if found is not None else ""


@router.post("/begin")
def begin(context: Context) -> Response:
    """Begin a test with a song nobody has heard."""
    drill = context.drills.begin(speed_test(new_seed()))
    return RedirectResponse(f"/write/{drill.record.key}", SEE_OTHER)


def speed_view(history: SpeedHistory, disqualification: str = "") -> SpeedView:
    """What a history says."""
    if not history.results:
        return SpeedView(None, None, "", None, disqualification)
    last, plot = history.results[-1], _plot(history.results)
    return SpeedView(last, history.best, describe_standing(history), plot, disqualification)


def speed_in_period(history: SpeedHistory, period: Period) -> Plot | None:
    """The tests of a period by their days, of each stretch the best; None without any."""
    inside = [
        each for each in history.results if period.since <= local_day(each.at) <= period.until
    ]
    if not inside:
        return None
    best: dict[int, float] = {}
    for each in inside:
        piece = period.index_of(local_day(each.at))
        best[piece] = max(best.get(piece, 0.0), each.kept_up)
    points = [Point(label, best.get(k)) for k, label in enumerate(period.labels())]
    title = "Bars you kept up with" if period.days_each == 1 else "Bars you kept up with, best test"
    return line("speed", title, _summary(inside), points, SHARES, HEADERS, _rows(inside))


def _plot(results: Sequence[SpeedResult]) -> Plot:
    points = [Point(short_day(local_day(each.at)), each.kept_up) for each in results[-DRAWN:]]
    summary, rows = _summary(results), _rows(results)
    return line("speed", "Bars you kept up with", summary, points, SHARES, HEADERS, rows)


def _summary(results: Sequence[SpeedResult]) -> str:
    first, last = results[0], results[-1]
    best = max(each.kept_up for each in results)
    return (
        f"You've taken {len(results)} test{'s' * (len(results) != 1)}. You kept up with "
        f"{percent(first.kept_up)} in the first, {percent(best)} in the best and "
        f"{percent(last.kept_up)} in the last."
    )


def _rows(results: Sequence[SpeedResult]) -> list[tuple[str, ...]]:
    return [
        (moment(each.at), percent(each.kept_up), percent(each.right), _lag(each))
        for each in reversed(results)
    ]


def _lag(result: SpeedResult) -> str:
    return "–" if result.lag_beats is None else f"{result.lag_beats:.1f}"
