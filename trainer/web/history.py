"""History: attempts, sorted and filtered, each result again."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from trainer.web.context import Context, LearnerContext
from trainer.web.views.history import KINDS, ORDERS, PAGE, HistoryView, history_view, say_kind

__all__ = ["router"]

router = APIRouter()
# Any other order looks at so many of the newest; nobody pages through more.
MOST = 5_000


@router.get("/history")
def history(
    context: Context, kind: str = "", order: str = "when", turned: str = "", page: str = "1"
) -> Response:
    """The attempts made so far."""
    store, learner = context.store, context.learner
    kinds = store.sets.kinds(learner)
    number = int(page) if page.isdecimal() and len(page) < 9 else 1
    if order == "when" and turned != "1" and (not kind or (kind.isdecimal() and len(kind) < 9)):
        view = _newest(context, kind, number)
    else:
        newest = store.attempts.history(learner, limit=MOST)
        view = history_view(
            newest, kinds, kind=kind, order=order, turned=turned == "1", page=number
        )
    passes = {level.number: level.pass_mark for level in context.course}
    values = {
        "view": view,
        "kind": kind,
        "kinds": KINDS,
        "said": {one.id: say_kind(one.level, one.exercise_id, kinds) for one in view.attempts},
        "orders": ORDERS,
        "passes": passes,
    }
    return context.page("history.html", values)


def _newest(context: LearnerContext, kind: str, page: int) -> HistoryView:
    """A page of the newest, of one level or of all, without reading the rest."""
    attempts, level = context.store.attempts, int(kind) if kind else None
    found = attempts.count(context.learner, level)
    pages = max(1, -(-found // PAGE))
    page = min(max(1, page), pages)
    shown = attempts.history(context.learner, PAGE, (page - 1) * PAGE, level)
    levels = tuple(sorted(attempts.best_by_level(context.learner)))
    return HistoryView(shown, levels, found, page, pages, "when", turned=False)
