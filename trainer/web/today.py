"""Today: about ten minutes of exercises, each with its reason; on the first day, the placement."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Annotated

from fastapi import APIRouter, Form, HTTPException
from fastapi.responses import RedirectResponse, Response

from trainer.drill import lesson_records, rating_state
from trainer.exercise import Lesson
from trainer.practice import MORE, describe_placement, describe_skill, lesson_for_skill
from trainer.store import AttemptRecord, SetItem
from trainer.web.classroom.work import due_work
from trainer.web.context import Context, LearnerContext

__all__ = ["SetPlace", "router", "set_place", "today_so_far"]

router = APIRouter(prefix="/today")
SEE_OTHER, NOT_FOUND = 303, 404
PLACEMENT, NEW = "placement", "new"
# More than are done in a day; results of today's items are looked for among them.
NEWEST = 100


@dataclass(frozen=True, slots=True)
class SetPlace:
    """Where an exercise stands in a set of `total` items, and why it is there; `is_placement` where
    the set finds the level."""

    position: int
    total: int
    reason: str
    is_placement: bool


@dataclass(frozen=True, slots=True)
class ItemRow:
    """One item. `state` is "open", "begun", "done" or "skipped"; `result` is the attempt's id."""

    position: int
    reason: str
    state: str
    minutes: float | None
    score: float | None
    result: int | None


@dataclass(frozen=True, slots=True)
class SetView:
    """One set of the day, numbered from 1.

    `is_placement` is whether it finds the level; `more_of` is the skill that it gives ten more
    exercises on, in words, "" if it is no such set.
    """

    day: date
    number: int
    is_placement: bool
    more_of: str
    items: tuple[ItemRow, ...]

    @property
    def waiting(self) -> tuple[ItemRow, ...]:
        """The items still to do, the next first."""
        return tuple(item for item in self.items if item.state in ("open", "begun"))

    @property
    def done(self) -> int:
        """How many are done."""
        return sum(item.state == "done" for item in self.items)


@dataclass(frozen=True, slots=True)
class TodayView:
    """All sets of the day so far, the present one last."""

    sets: tuple[SetView, ...]

    @property
    def present(self) -> SetView | None:
        """The set one is at; None before the first is planned."""
        return self.sets[-1] if self.sets else None

    @property
    def is_done(self) -> bool:
        """Whether the present set has nothing left, and is no placement, which a set follows."""
        present = self.present
        return present is not None and not present.waiting and not present.is_placement

    @property
    def is_begun(self) -> bool:
        """Whether anything of the present set was done or begun."""
        present = self.present
        return present is not None and any(item.state != "open" for item in present.items)


@router.get("")
def today(context: Context) -> Response:
    """The day's sets, as far as they got."""
    sets = context.sets
    stored = sets.items
    planned = sets.plan(stored)
    view = _so_far(context, (*stored, *(each for each in planned if each not in stored)))
    was_placed = view.sets[0].is_placement and view.sets[0].done and not view.sets[-1].is_placement
    values = {
        "view": view,
        "found": _found_level(context) if was_placed else "",
        "due": due_work(context),
        "lessons": _lessons(context, planned),
    }
    return context.page("today.html", values)


def _found_level(context: LearnerContext) -> str:
    """What the placement found, in words."""
    state = rating_state(context.store, context.learner)
    return describe_placement(state, context.course, context.clock())


def _lessons(
    context: LearnerContext, planned: Sequence[SetItem]
) -> Mapping[tuple[int, int], tuple[Lesson, ...]]:
    """The lessons to hear before what is new, by the number of the set and the place in it."""
    waiting = [each for each in planned if each.kind == NEW and each.status == "open"]
    records = lesson_records(context.store, context.learner) if waiting else {}
    found = {}
    for item in waiting:
        lessons = {lesson_for_skill(context.lessons, skill) for skill in item.skills}
        found[item.number, item.position] = tuple(
            lesson
            for lesson in context.lessons
            if lesson in lessons and not (lesson.id in records and records[lesson.id].is_done)
        )
    return found


@router.post("/begin")
def begin(context: Context) -> Response:
    """Begin the next item; back to the day's page if nothing is open."""
    coming = context.sets.next()
    place = f"/write/{coming.drill.record.key}" if coming is not None else "/today"
    return RedirectResponse(place, SEE_OTHER)


@router.post("/more")
def more(
    context: Context, level: Annotated[int, Form()], skill: Annotated[str, Form()]
) -> Response:
    """Ten more of one skill of a level, and the first of them begun."""
    found = context.level(level)
    if found is None:
        raise HTTPException(NOT_FOUND, "There is no such level in the course.")
    context.sets.more_of(found, skill)
    return begin(context)


@router.post("/skip")
def skip(
    context: Context,
    day: Annotated[str, Form()],
    number: Annotated[int, Form()],
    position: Annotated[int, Form()],
) -> Response:
    """Skip an item of the present set, named by its day and its place in the set."""
    place = (day, number, position)
    items = context.sets.start() if day == context.drills.today.isoformat() else ()
    found = [each for each in items if (each.day.isoformat(), each.number, each.position) == place]
    if not found:
        raise HTTPException(NOT_FOUND, "There is no such exercise in your sets.")
    context.sets.skip(found[0])
    return RedirectResponse("/today", SEE_OTHER)


@router.post("/unplaced")
def unplaced(context: Context) -> Response:
    """Skip the placement and show the first set, from the beginning of the course."""
    context.sets.skip_placement()
    return RedirectResponse("/today", SEE_OTHER)


@router.post("/another")
def another(context: Context) -> Response:
    """A further set, when this one has nothing open."""
    context.sets.another()
    return RedirectResponse("/today", SEE_OTHER)


def today_so_far(context: LearnerContext) -> TodayView:
    """What was planned and done today, of the sets that are stored."""
    return _so_far(context, context.sets.items)


def _so_far(context: LearnerContext, items: Sequence[SetItem]) -> TodayView:
    """A day's items with what became of them. Nothing is read for items that nobody began."""
    begun = [item.exercise_id for item in items if item.exercise_id and item.status == "open"]
    done = [item.exercise_id for item in items if item.exercise_id and item.status == "done"]
    store, learner = context.store, context.learner
    latest = store.open_drills.latest(learner) if begun else None
    newest = store.attempts.of_exercises(learner, done, NEWEST) if done else ()
    return _today_view(items, newest, latest[0].key if latest is not None else None)


def set_place(context: LearnerContext, exercise_id: str) -> SetPlace | None:
    """Where an exercise stands in today's sets; None if it was made for none of them."""
    items = context.sets.items
    found = next((item for item in items if item.exercise_id == exercise_id), None)
    if found is None:
        return None
    total = sum(item.number == found.number for item in items)
    return SetPlace(found.position, total, found.reason, found.kind == PLACEMENT)


def _today_view(
    items: Sequence[SetItem], newest: Sequence[AttemptRecord], drafted: str | None
) -> TodayView:
    """A day's items, in their order, with the attempts at them.

    Parameters
    ----------
    newest : the learner's last attempts, newest first.
    drafted : the exercise last written on and not handed in.
    """
    attempts = {one.exercise_id: one for one in reversed(newest)}
    sets = []
    for number, inside in groupby(items, key=lambda item: item.number):
        rows = list(inside)
        kind = rows[0].kind
        shown = tuple(_row(row, attempts, drafted) for row in rows)
        more_of = describe_skill(rows[0].skills[0]) if kind == MORE else ""
        sets.append(SetView(rows[0].day, number, kind == PLACEMENT, more_of, shown))
    # More of one skill is the present set until it is done; then the day's own is again.
    present = next((one for one in reversed(sets) if one.more_of and one.waiting), None)
    present = present or next((one for one in reversed(sets) if not one.more_of), None)
    return TodayView(tuple(sorted(sets, key=lambda one: one is present)))


def _row(item: SetItem, attempts: dict[str, AttemptRecord], drafted: str | None) -> ItemRow:
    attempt = attempts.get(item.exercise_id or "") if item.status == "done" else None
    begun = item.status == "open" and item.exercise_id is not None and item.exercise_id == drafted
    return ItemRow(
        item.position,
        item.reason,
        "begun" if begun else item.status,
        item.minutes,
        attempt.score if attempt else None,
        attempt.id if attempt else None,
    )
