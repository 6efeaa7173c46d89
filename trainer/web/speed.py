"""The speed self-test: the same protocol every time, held against one's own earlier results."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import RedirectResponse, Response

from trainer.practice import SpeedHistory, disqualification, speed_history, speed_test
from trainer.web.site import Here, Site, new_seed
from trainer.web.views.speed import speed_view

__all__ = ["router"]

router = APIRouter(prefix="/speed")
SEE_OTHER = 303
# A test that does not count is told of while it is among so many of the last attempts.
NEWEST = 10


@router.get("")
def speed(site: Here) -> Response:
    """What the test is, and the results so far."""
    learner = site.known
    if learner is None:
        return RedirectResponse("/hearing", SEE_OTHER)
    history = speed_history(site.store.ratings.speed(learner))
    return site.page("speed.html", {"view": speed_view(history, _uncounted(site, history))})


def _uncounted(site: Site, history: SpeedHistory) -> str:
    """Why the last test does not count, "" where it does or there is none."""
    kinds = site.store.sets.kinds(site.learner)
    newest = site.store.attempts.history(site.learner, limit=NEWEST)
    test = next((one for one in newest if kinds.get(one.exercise_id) == "speed test"), None)
    if test is None or any(test.finished_at == each.at for each in history.results):
        return ""
    return disqualification(test.listens, test.paused, test.tempo_ratio, is_timed=False)


@router.post("/begin")
def begin(site: Here) -> Response:
    """Sit down to a test with a song nobody has heard."""
    kept = site.keep(speed_test(new_seed()))
    return RedirectResponse(f"/write/{kept.id}", SEE_OTHER)
