"""The speed self-test: the same protocol every time, held against one's own earlier results."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import RedirectResponse, Response

from trainer.practice import speed_history, speed_test
from trainer.web.site import Here, new_seed
from trainer.web.views.speed import speed_view

__all__ = ["router"]

router = APIRouter(prefix="/speed")
SEE_OTHER = 303


@router.get("")
def speed(site: Here) -> Response:
    """What the test is, and the results so far."""
    learner = site.known
    if learner is None:
        return RedirectResponse("/hearing", SEE_OTHER)
    history = speed_history(site.store.ratings.speed(learner))
    return site.page("speed.html", {"view": speed_view(history)})


@router.post("/begin")
def begin(site: Here) -> Response:
    """Sit down to a test with a song nobody has heard."""
    kept = site.keep(speed_test(new_seed()))
    return RedirectResponse(f"/write/{kept.id}", SEE_OTHER)
