"""Today: about ten minutes of exercises, each with its reason; on the first day, which level."""

from __future__ import annotations

import random
import secrets
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, HTTPException
from fastapi.responses import RedirectResponse, Response

from trainer.practice import describe_placement
from trainer.web.site import Here, Site
from trainer.web.views.today import TodayView, today_view

if TYPE_CHECKING:
    from trainer.store import SetItem, Today

__all__ = ["item_of", "router", "set_so_far"]

router = APIRouter(prefix="/today")
SEE_OTHER, NOT_FOUND = 303, 404
# More than are done in a day; results of today's items are looked for among them.
NEWEST = 100


@router.get("")
def today(site: Here) -> Response:
    """The day's sets, as far as they got."""
    if site.known is None:
        return RedirectResponse("/hearing", SEE_OTHER)
    _day(site).plan(site.now())
    view = set_so_far(site)
    was_placed = view.sets[0].placing and view.sets[0].done and not view.sets[-1].placing
    found = describe_placement(site.store.ratings.state(site.learner), site.course, site.now())
    return site.page("today.html", {"view": view, "found": found if was_placed else ""})


@router.post("/begin")
def begin(site: Here) -> Response:
    """Sit down to the next item; back to the day's page if nothing is open."""
    if site.known is None:
        return RedirectResponse("/hearing", SEE_OTHER)
    given = _day(site).next(site.now())
    return RedirectResponse(f"/write/{given.exercise.id}" if given else "/today", SEE_OTHER)


@router.post("/skip")
def skip(site: Here, item: Annotated[int, Form()]) -> Response:
    """Leave an item out."""
    found = site.store.sets.get(site.learner, item) if 0 < item < 2**63 else None
    if found is None:
        raise HTTPException(NOT_FOUND, "There is no such exercise in your sets.")
    _day(site).skip(found, site.now())
    return RedirectResponse("/today", SEE_OTHER)


@router.post("/unplaced")
def unplaced(site: Here) -> Response:
    """Do without finding the level: the first set, from the beginning of the course."""
    _day(site).skip_placement(site.now())
    return RedirectResponse("/today", SEE_OTHER)


@router.post("/another")
def another(site: Here) -> Response:
    """A further set, when this one has nothing open."""
    _day(site).another(site.now())
    return RedirectResponse("/today", SEE_OTHER)


def set_so_far(site: Site) -> TodayView:
    """What was planned and done today; nothing is planned by asking."""
    learner = site.learner
    newest = site.store.attempts.history(learner, limit=NEWEST)
    draft = site.store.drafts.latest(learner)
    items = site.store.sets.of_day(learner, site.today)
    return today_view(items, newest, draft[0] if draft else None)


def item_of(site: Site, exercise_id: str) -> dict[str, Any] | None:
    """The item of today's sets that an exercise was made for, with its place among how many."""
    items = site.store.sets.of_day(site.learner, site.today)
    found: SetItem | None = next((i for i in items if i.exercise_id == exercise_id), None)
    if found is None:
        return None
    total = sum(item.number == found.number for item in items)
    return {"item": found, "total": total, "placing": found.kind == "placement"}


def _day(site: Site) -> Today:
    from trainer.store import Today

    rng = random.Random(secrets.randbits(64))
    return Today(site.store, site.learner, site.course, site.today, rng)
