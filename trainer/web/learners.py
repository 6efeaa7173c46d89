"""Learners: the list of learners, adding, renaming and deleting one, exports and the backup."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Form, HTTPException
from fastapi.responses import FileResponse, RedirectResponse, Response
from starlette.background import BackgroundTask

from trainer.web.context import PageContext, PublicContext
from trainer.web.downloads import download
from trainer.web.learner_cookie import forget_learner, remember_learner

if TYPE_CHECKING:
    from trainer.store import Learner

__all__ = ["router"]

router = APIRouter(prefix="/learners")
SEE_OTHER, NOT_FOUND = 303, 404
Field = Annotated[str, Form()]


@dataclass(frozen=True, slots=True)
class LearnerRow:
    """A learner as listed; `last` is the day of the last attempt."""

    uid: str
    name: str
    attempts: int
    last: date | None


@router.get("")
def learners(context: PublicContext, deleted: str = "") -> Response:
    """Everybody who has a record here.

    `deleted` is the uid of a learner who was just deleted: the browser forgets what it kept of
    theirs.
    """
    people = [_person(context, learner) for learner in context.store.learners.all()]
    values = {
        "deleted": "" if any(person.uid == deleted for person in people) else deleted,
        "people": people,
        "chosen": context.learner.uid if context.learner is not None else "",
        "is_file": context.store.path is not None,
    }
    return context.page("learners.html", values)


@router.post("/choose")
def choose(context: PublicContext, uid: Field = "") -> Response:
    """Practise as somebody who has a record."""
    return _practise_as(context, _find(context, uid), "/")


@router.post("/add")
def add(context: PublicContext, name: Field = "") -> Response:
    """Add a learner, who then practises; the caution comes first."""
    return _practise_as(context, context.store.learners.add_new(name, context.clock()), "/hearing")


@router.get("/{uid}/rename")
def ask_rename(context: PublicContext, uid: str) -> Response:
    """Ask for another name."""
    return context.page("rename.html", {"person": _find(context, uid)})


@router.post("/{uid}/rename")
def rename(context: PublicContext, uid: str, name: Field = "") -> Response:
    """Give a learner another name."""
    learner = context.store.learners.rename(_find(context, uid), name)
    if context.learner is None or learner.uid != context.learner.uid:
        return RedirectResponse("/learners", SEE_OTHER)
    return _practise_as(context, learner, "/learners")


@router.get("/{uid}/delete")
def ask_delete(context: PublicContext, uid: str) -> Response:
    """Name what would go, and ask."""
    store, learner = context.store, _find(context, uid)
    days = store.progress.days(learner)
    values: dict[str, Any] = {
        "person": _person(context, learner),
        "first": days[0].day if days else None,
        "days": len(days),
        "minutes": sum(day.minutes for day in days),
        "tests": len(store.ratings.speed(learner)),
        "songs": len(store.songs.all(learner)),
        "has_draft": store.open_drills.latest(learner) is not None,
    }
    return context.page("delete.html", values)


@router.post("/{uid}/delete")
def delete(context: PublicContext, uid: str) -> Response:
    """Delete a learner with all that is theirs."""
    learner = _find(context, uid)
    context.store.learners.delete(learner)
    answer = RedirectResponse(f"/learners?deleted={quote(learner.uid)}", SEE_OTHER)
    if context.learner is not None and learner.uid == context.learner.uid:
        forget_learner(answer)
    return answer


@router.post("/{uid}/export")
def export(context: PublicContext, uid: str) -> Response:
    """All that is stored about a learner, as JSON, to take elsewhere."""
    learner = _find(context, uid)
    return download(context.store.transfer.export_json(learner), f"{learner.name}.json")


@router.post("/backup")
def backup(context: PublicContext) -> Response:
    """Everybody's record in one file."""
    folder = Path(tempfile.mkdtemp(prefix="chart-trainer-"))
    name = f"chart-trainer-{context.today.isoformat()}.db"
    try:
        path = context.store.backup(folder / name)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    clear = BackgroundTask(shutil.rmtree, folder, ignore_errors=True)
    return FileResponse(path, filename=name, media_type="application/vnd.sqlite3", background=clear)


def _person(context: PageContext, learner: Learner) -> LearnerRow:
    newest = context.store.attempts.history(learner, limit=1)
    last = newest[0].day if newest else None
    return LearnerRow(learner.uid, learner.name, context.store.attempts.count(learner), last)


def _find(context: PageContext, uid: str) -> Learner:
    """The learner of that uid. Raises HTTPException 404."""
    found = context.store.learners.by_uid(uid)
    if found is None:
        raise HTTPException(NOT_FOUND, "There is no such learner here.")
    return found


def _practise_as(context: PageContext, learner: Learner, place: str) -> Response:
    """Have the browser remember who practises, and lead to `place`."""
    answer = RedirectResponse(place, SEE_OTHER)
    remember_learner(answer, learner.uid, context.owner)
    return answer
