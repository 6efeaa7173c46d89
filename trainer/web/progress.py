"""Progress: what is heard and how that changed; the numbers behind it to take along."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter
from fastapi.responses import Response

from trainer.drill import rating_state
from trainer.practice import (
    SkillSummary,
    describe_confusions,
    describe_mistakes,
    skill_summaries,
    speed_history,
)
from trainer.web.context import Context, LearnerContext
from trainer.web.downloads import download, download_rows
from trainer.web.views.heat import heat
from trainer.web.views.progress import OFTEN, day_plots, skill_plots, totals, worth_drawing
from trainer.web.views.spans import DEFAULT, RANGES, Span, span_of
from trainer.web.views.speed import speed_in_span

if TYPE_CHECKING:
    from trainer.store import Confusion, DayRecord, SkillDay

__all__ = ["router"]

router = APIRouter(prefix="/progress")
# So many skills are drawn unless all are asked for.
DRAWN = 9
SENTENCES = 5


@dataclass(frozen=True, slots=True)
class Known:
    """What the store says of a range; `mistakes` tells in words what is taken for what."""

    span: Span
    days: tuple[DayRecord, ...]
    met: tuple[SkillDay, ...]
    confusions: tuple[Confusion, ...]
    mistakes: list[str]
    lines: tuple[SkillSummary, ...]


@router.get("")
def progress(context: Context, time: str = DEFAULT, skills: str = "") -> Response:
    """The page of a range of time."""
    learner, ratings = context.learner, context.store.ratings
    known = _known(context, time)
    span = known.span
    most = len(known.lines) if skills == "all" else DRAWN
    drawn = worth_drawing(known.lines, known.met, most)
    shown = [one for one in known.lines if one.skill in drawn]
    rated = ratings.day_stretches(learner, drawn, span.since, span.until, span.step)
    values = {
        "ranges": RANGES,
        "span": span,
        "is_all": len(shown) == len(known.lines),
        "totals": totals(known.days),
        "lines": known.lines,
        "days": day_plots(known.days, span),
        "skills": skill_plots(shown, known.met, rated, span),
        "heat": heat(known.confusions),
        "often": OFTEN,
        "drawn": len(shown),
        "sentences": known.mistakes[:SENTENCES],
        "speed": speed_in_span(speed_history(ratings.speed(learner)), span),
    }
    return context.page("progress.html", values)


@router.get("/numbers.json")
def numbers(context: Context, time: str = DEFAULT) -> Response:
    """The numbers behind the page."""
    store, learner = context.store, context.learner
    known = _known(context, time)
    span = known.span
    rated = store.ratings.days(learner, span.since, span.until)
    values = {
        "learner": learner.name,
        "since": span.since,
        "until": span.until,
        "days": known.days,
        "skills": known.lines,
        "skill_days": store.progress.skills(learner, span.since, span.until),
        "rating_days": rated,
        "confusions": known.confusions,
        "speed": speed_history(store.ratings.speed(learner)).results,
    }
    return download(_plain(values), f"progress {learner.name} {span.until}.json")


@router.get("/exercises.csv")
def exercises(context: Context) -> Response:
    """Every exercise written, a line each, oldest first."""
    rows = context.store.transfer.csv_rows(context.learner)
    return download_rows(rows, f"exercises {context.learner.name} {context.today}.csv")


def _known(context: LearnerContext, time: str) -> Known:
    store, learner = context.store, context.learner
    everything = store.progress.days(learner) if time == "all" else ()
    span = span_of(time, context.today, everything[0].day if everything else None)
    since, until = span.since, span.until
    confusions = store.progress.confusions(learner, since, until)
    pairs = [(each.played, each.written, each.chords) for each in confusions]
    return Known(
        span,
        everything or store.progress.days(learner, since, until),
        store.progress.skill_stretches(learner, since, until, span.step),
        confusions,
        describe_mistakes(pairs),
        skill_summaries(rating_state(store, learner), context.clock(), describe_confusions(pairs)),
    )


def _plain(value: Any) -> Any:
    """Values as JSON has them."""
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    if isinstance(value, tuple | list):
        return [_plain(each) for each in value]
    if isinstance(value, datetime | date):
        return value.isoformat()
    if hasattr(value, "__dataclass_fields__"):
        return _plain(asdict(value))
    return value
