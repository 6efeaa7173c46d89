"""A learner's work for their classes: what is due, and what became of it."""

from __future__ import annotations

from fastapi import APIRouter, Depends
from fastapi.responses import RedirectResponse, Response

from trainer.classroom.classes import Classes
from trainer.classroom.dictation_seat import DictationSeat
from trainer.classroom.handing_out import ClassWork, DueAssignment
from trainer.web.classroom.access import SIGNED_IN
from trainer.web.context import Context, LearnerContext

__all__ = ["due_work", "router"]

router = APIRouter(prefix="/assigned", dependencies=[Depends(SIGNED_IN)])
SEE_OTHER = 303


def _work(context: LearnerContext) -> ClassWork:
    assert context.account is not None
    return ClassWork(context.account, context.drills)


def due_work(context: LearnerContext) -> tuple[DueAssignment, ...]:
    """What is due in the learner's classes; nothing at home."""
    if context.account is None:
        return ()
    return tuple(each for each in _work(context).all() if each.is_due)


@router.get("")
def work(context: Context) -> Response:
    """What is due in the learner's classes, and what is done."""
    mine = _work(context)
    everything = mine.all()
    values = {
        "due": [each for each in everything if each.is_due],
        "rest": [each for each in reversed(everything) if not each.is_due],
        "dictations": DictationSeat(context.store, mine.account, context.clock).open(),
        "classes": Classes(context.store, mine.account, context.clock).joined(),
    }
    return context.page("work.html", values)


@router.get("/{uid}")
def one(context: Context, uid: str) -> Response:
    """One assignment."""
    return context.page("work_assignment.html", {"due": _work(context).find(uid)})


@router.post("/items/{item_uid}/begin")
def begin(context: Context, item_uid: str) -> Response:
    """Begin an item, or go on with it."""
    drill = _work(context).begin(item_uid)
    return RedirectResponse(f"/write/{drill.record.key}", SEE_OTHER)


@router.post("/classes/{uid}/leave")
def leave(context: Context, uid: str) -> Response:
    """Leave a class; what was handed in stays there."""
    mine = _work(context)
    Classes(context.store, mine.account, context.clock).leave(uid)
    return RedirectResponse("/assigned", SEE_OTHER)
