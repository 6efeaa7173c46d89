"""Today: about ten minutes of exercises, each with its reason; on the first day, which level."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any

from fastapi import APIRouter, Form, HTTPException
from fastapi.responses import RedirectResponse, Response

from trainer.drill import rating_state
from trainer.practice import describe_placement
from trainer.store import SetItem
from trainer.web.context import Context, LearnerContext
from trainer.web.views.today import TodayView, today_view

__all__ = ["item_of", "router", "set_so_far"]

router = APIRouter(prefix="/today")
SEE_OTHER, NOT_FOUND = 303, 404
# More than are done in a day; results of today's items are looked for among them.
NEWEST = 100


@router.get("")
def today(context: Context) -> Response:
    """The day's sets, as far as they got."""
    view = set_so_far(context, context.sets.plan())
    was_placed = view.sets[0].placing and view.sets[0].done and not view.sets[-1].placing
    state = rating_state(context.store, context.learner)
    found = describe_placement(state, context.course, context.clock())
    return context.page("today.html", {"view": view, "found": found if was_placed else ""})


@router.post("/begin")
def begin(context: Context) -> Response:
    """Begin the next item; back to the day's page if nothing is open."""
    coming = context.sets.next()
    place = f"/write/{coming.drill.record.key}" if coming is not None else "/today"
    return RedirectResponse(place, SEE_OTHER)


@router.post("/skip")
def skip(
    context: Context,
    day: Annotated[str, Form()],
    number: Annotated[int, Form()],
    position: Annotated[int, Form()],
) -> Response:
    """Leave an item of the present set out, named by its day and its place there."""
    place = (day, number, position)
    items = context.sets.start() if day == context.drills.today.isoformat() else ()
    found = [each for each in items if (each.day.isoformat(), each.number, each.position) == place]
    if not found:
        raise HTTPException(NOT_FOUND, "There is no such exercise in your sets.")
    context.sets.skip(found[0])
    return RedirectResponse("/today", SEE_OTHER)


@router.post("/unplaced")
def unplaced(context: Context) -> Response:
    """Do without finding the level: the first set, from the beginning of the course."""
    context.sets.skip_placement()
    return RedirectResponse("/today", SEE_OTHER)


@router.post("/another")
def another(context: Context) -> Response:
    """A further set, when this one has nothing open."""
    context.sets.another()
    return RedirectResponse("/today", SEE_OTHER)


def set_so_far(context: LearnerContext, planned: Sequence[SetItem] = ()) -> TodayView:
    """What was planned and done today; `planned` is the present set where that is not stored."""
    newest = context.store.attempts.history(context.learner, limit=NEWEST)
    latest = context.drills.latest()
    items = context.sets.items
    items += tuple(each for each in planned if each not in items)
    return today_view(items, newest, latest.record.key if latest is not None else None)


def item_of(context: LearnerContext, exercise_id: str) -> dict[str, Any] | None:
    """The item of today's sets that an exercise was made for, with its place among how many."""
    items = context.sets.items
    found = next((item for item in items if item.exercise_id == exercise_id), None)
    if found is None:
        return None
    total = sum(item.number == found.number for item in items)
    return {"item": found, "total": total, "placing": found.kind == "placement"}
