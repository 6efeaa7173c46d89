"""Learners: who practises here, one more, one less, and everybody's record to keep safe."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Request
from fastapi.responses import FileResponse, RedirectResponse, Response
from starlette.background import BackgroundTask

from trainer.errors import SettingsError
from trainer.store.learners import clean_name
from trainer.web.chosen import forget_choice, remember_choice
from trainer.web.downloads import download
from trainer.web.site import Here, Site

if TYPE_CHECKING:
    from trainer.store import Learner

__all__ = ["router"]

router = APIRouter(prefix="/learners")
SEE_OTHER, NOT_FOUND = 303, 404
Name = Annotated[str, Form()]


@dataclass(frozen=True, slots=True)
class Person:
    """A learner as listed; `last` is the day of the last attempt."""

    name: str
    attempts: int
    last: date | None


@router.get("")
def learners(site: Here) -> Response:
    """Everybody who has a record here."""
    people = [_person(site, learner) for learner in site.store.learners.all()]
    return site.page("learners.html", {"people": people, "is_file": site.store.path is not None})


@router.post("/choose")
def choose(site: Here, request: Request, name: Name = "") -> Response:
    """Practise as somebody who has a record."""
    found = _find(site, name)
    return _as(request, found.name, "/")


@router.post("/add")
def add(site: Here, request: Request, name: Name = "") -> Response:
    """Add a learner, who then practises; the caution comes first."""
    wanted = clean_name(name)
    if site.store.learners.get(wanted) is not None:
        raise SettingsError("name", f"{wanted}, who has a record here", "a name that is free")
    added = site.store.learners.get_or_add(wanted, site.now())
    return _as(request, added.name, "/hearing?first=1")


@router.get("/rename")
def ask_rename(site: Here, name: str = "") -> Response:
    """Ask for another name."""
    return site.page("rename.html", {"name": _find(site, name).name})


@router.post("/rename")
def rename(site: Here, request: Request, name: Name = "", new: Name = "") -> Response:
    """Give a learner another name."""
    learner = _find(site, name)
    renamed = site.store.learners.rename(learner, new)
    if learner.name != site.learner_name:
        return RedirectResponse("/learners", SEE_OTHER)
    return _as(request, renamed.name, "/learners")


@router.get("/delete")
def ask_delete(site: Here, name: str = "") -> Response:
    """Name what would go, and ask."""
    learner = _find(site, name)
    days = site.store.progress.days(learner)
    values: dict[str, Any] = {
        "person": _person(site, learner),
        "first": days[0].day if days else None,
        "days": len(days),
        "minutes": sum(day.minutes for day in days),
        "tests": len(site.store.ratings.speed(learner)),
        "has_draft": site.store.drafts.latest(learner) is not None,
    }
    return site.page("delete.html", values)


@router.post("/delete")
def delete(site: Here, name: Name = "") -> Response:
    """Delete a learner with all that is theirs."""
    learner = _find(site, name)
    site.store.learners.delete(learner)
    answer = RedirectResponse("/learners", SEE_OTHER)
    if learner.name == site.learner_name:
        forget_choice(answer)
    return answer


@router.post("/backup")
def backup(site: Here) -> Response:
    """Everybody's record in one file."""
    folder = Path(tempfile.mkdtemp(prefix="chart-trainer-"))
    name = f"chart-trainer-{site.today.isoformat()}.db"
    try:
        path = site.store.backup(folder / name)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    clear = BackgroundTask(shutil.rmtree, folder, ignore_errors=True)
    return FileResponse(path, filename=name, media_type="application/vnd.sqlite3", background=clear)


@router.post("/export")
def export(site: Here, name: Name = "") -> Response:
    """All that is stored about a learner, as JSON, to take elsewhere."""
    learner = _find(site, name)
    return download(site.store.transfer.export_json(learner), f"{learner.name}.json")


def _person(site: Site, learner: Learner) -> Person:
    newest = site.store.attempts.history(learner, limit=1)
    last = newest[0].day if newest else None
    return Person(learner.name, site.store.attempts.count(learner), last)


def _find(site: Site, name: str) -> Learner:
    found = site.store.learners.get(clean_name(name))
    if found is None:
        raise HTTPException(NOT_FOUND, f"There is no learner named {name[:80]!r} here.")
    return found


def _as(request: Request, name: str, place: str) -> Response:
    answer = RedirectResponse(place, SEE_OTHER)
    owner: Site = request.app.state.site
    remember_choice(answer, name, owner.learner_name)
    return answer
