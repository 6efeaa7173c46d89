"""Progress: how well the learner hears each skill and how that changed; the numbers as files."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from fastapi import APIRouter
from fastapi.responses import Response

from trainer.drill import lesson_records, rating_state, totals
from trainer.practice import (
    MOST_LAG_BEATS,
    SkillSummary,
    describe_confusions,
    describe_mistakes,
    skill_summaries,
    speed_history,
)
from trainer.web.context import Context, LearnerContext
from trainer.web.downloads import download, download_rows
from trainer.web.speed import speed_in_period
from trainer.web.views.confusions import confusion_table
from trainer.web.views.periods import DEFAULT, PERIODS, Period, period_of
from trainer.web.views.progress import ENOUGH_BARS, day_plots, skill_plots, skills_to_draw

if TYPE_CHECKING:
    from trainer.store import ConfusionCount, DayRecord, SkillDay

__all__ = ["router"]

router = APIRouter(prefix="/progress")
# How many skills are drawn unless all are asked for, and how many mistakes are named.
MOST_DRAWN = 9
MOST_MISTAKES = 5


@dataclass(frozen=True, slots=True)
class PeriodRecord:
    """What the store has of a period; `mistakes` says in words what is taken for what."""

    period: Period
    days: tuple[DayRecord, ...]
    skill_days: tuple[SkillDay, ...]
    confusions: tuple[ConfusionCount, ...]
    mistakes: list[str]
    summaries: tuple[SkillSummary, ...]


@router.get("")
def progress(context: Context, time: str = DEFAULT, skills: str = "") -> Response:
    """The page of a period."""
    learner, ratings = context.learner, context.store.ratings
    record = _record_of(context, time)
    period = record.period
    since, until, days_each = period.since, period.until, period.days_each
    most = len(record.summaries) if skills == "all" else MOST_DRAWN
    drawn = skills_to_draw(record.summaries, record.skill_days, most)
    shown = [one for one in record.summaries if one.skill in drawn]
    rating_days = ratings.day_stretches(learner, drawn, since, until, days_each)
    values = {
        "periods": PERIODS,
        "period": period,
        "is_all": len(shown) == len(record.summaries),
        "totals": totals(record.days),
        "most_lag_beats": MOST_LAG_BEATS,
        "lessons": lesson_records(context.store, learner).values(),
        "summaries": record.summaries,
        "days": day_plots(record.days, period),
        "skills": skill_plots(shown, record.skill_days, rating_days, period),
        "confusion_table": confusion_table(record.confusions),
        "enough_bars": ENOUGH_BARS,
        "drawn": len(shown),
        "mistakes": record.mistakes[:MOST_MISTAKES],
        "speed": speed_in_period(speed_history(ratings.speed(learner)), period),
    }
    return context.page("progress.html", values)


@router.get("/numbers.json")
def numbers(context: Context, time: str = DEFAULT) -> Response:
    """The numbers behind the page."""
    store, learner = context.store, context.learner
    record = _record_of(context, time)
    period = record.period
    rating_days = store.ratings.days(learner, period.since, period.until)
    values = {
        "learner": learner.name,
        "since": period.since,
        "until": period.until,
        "days": record.days,
        "skills": record.summaries,
        "skill_days": store.progress.skills(learner, period.since, period.until),
        "rating_days": rating_days,
        "confusions": [each for each in record.confusions if each.is_wrong],
        "chords": record.confusions,
        "speed": speed_history(store.ratings.speed(learner)).results,
    }
    return download(_json_values(values), f"progress {learner.name} {period.until}.json")


@router.get("/exercises.csv")
def exercises(context: Context) -> Response:
    """Every exercise written, a line each, oldest first."""
    rows = context.store.transfer.csv_rows(context.learner)
    return download_rows(rows, f"exercises {context.learner.name} {context.today}.csv")


def _record_of(context: LearnerContext, time: str) -> PeriodRecord:
    store, learner = context.store, context.learner
    everything = store.progress.days(learner) if time == "all" else ()
    period = period_of(time, context.today, everything[0].day if everything else None)
    since, until = period.since, period.until
    confusions = store.progress.confusions(learner, since, until)
    pairs = [(each.played, each.written, each.chords) for each in confusions]
    return PeriodRecord(
        period,
        everything or store.progress.days(learner, since, until),
        store.progress.skill_stretches(learner, since, until, period.days_each),
        confusions,
        describe_mistakes(pairs),
        skill_summaries(rating_state(store, learner), context.clock(), describe_confusions(pairs)),
    )


def _json_values(value: Any) -> Any:
    """Values as JSON has them."""
    if isinstance(value, dict):
        return {key: _json_values(each) for key, each in value.items()}
    if isinstance(value, tuple | list):
        return [_json_values(each) for each in value]
    if isinstance(value, datetime | date):
        return value.isoformat()
    if hasattr(value, "__dataclass_fields__"):
        return _json_values(asdict(value))
    return value
