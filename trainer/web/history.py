"""History: attempts, sorted and filtered, each result again."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import RedirectResponse, Response

from trainer.web.site import Here
from trainer.web.views.history import ORDERS, history_view

__all__ = ["router"]

router = APIRouter()
# Sorting and filtering look at so many of the newest; nobody pages through more.
MOST = 5_000


@router.get("/history")
def history(
    site: Here, kind: str = "", order: str = "when", turned: str = "", page: str = "1"
) -> Response:
    """The attempts made so far."""
    learner = site.known
    if learner is None:
        return RedirectResponse("/", 303)
    view = history_view(
        site.store.attempts.history(learner, limit=MOST),
        kind=kind,
        order=order,
        turned=turned == "1",
        page=int(page) if page.isdecimal() and len(page) < 9 else 1,
    )
    passes = {level.number: level.pass_mark for level in site.course}
    return site.page(
        "history.html", {"view": view, "kind": kind, "orders": ORDERS, "passes": passes}
    )
