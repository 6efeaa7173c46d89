"""The speed self-test: the same protocol every time, held against one's own earlier results."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import RedirectResponse, Response

from trainer.drill import find_result
from trainer.practice import SpeedHistory, speed_history, speed_test
from trainer.web.context import Context, LearnerContext, new_seed
from trainer.web.views.speed import speed_view

__all__ = ["router"]

router = APIRouter(prefix="/speed")
SEE_OTHER = 303
# A test that does not count is told of while it is among so many of the last attempts.
NEWEST = 10


@router.get("")
def speed(context: Context) -> Response:
    """What the test is, and the results so far."""
    history = speed_history(context.store.ratings.speed(context.learner))
    return context.page("speed.html", {"view": speed_view(history, _uncounted(context, history))})


def _uncounted(context: LearnerContext, history: SpeedHistory) -> str:
    """Why the last test does not count, "" where it does or there is none."""
    kinds = context.store.sets.kinds(context.learner)
    newest = context.store.attempts.history(context.learner, limit=NEWEST)
    test = next((one for one in newest if kinds.get(one.exercise_id) == "speed test"), None)
    if test is None or any(test.finished_at == each.at for each in history.results):
        return ""
    found = find_result(context.store, context.learner, test.id)
    return found.why_no_test if found is not None else ""


@router.post("/begin")
def begin(context: Context) -> Response:
    """Begin a test with a song nobody has heard."""
    drill = context.drills.begin(speed_test(new_seed()))
    return RedirectResponse(f"/write/{drill.record.key}", SEE_OTHER)
