"""A teacher makes, changes, previews, copies and opens an assignment."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import RedirectResponse, Response

from trainer.classroom.assignments import COUNTS, RESULTS, AssignmentSettings
from trainer.classroom.packing import pack_of, pack_sheets
from trainer.errors import ClassNotFound, InputError
from trainer.exercise import handed_out_exercise
from trainer.grade import SCHEMES, weights_table
from trainer.practice import describe_skill
from trainer.store import Assignment
from trainer.web.classroom.access import TEACHERS, PersonContext, Teacher
from trainer.web.classroom.classes import assignments_of, classes_of
from trainer.web.classroom.forms import (
    SCHEME_WEIGHTS,
    form_moment,
    read_plan,
    read_scheme,
    read_settings,
)
from trainer.web.context import Context
from trainer.web.downloads import download_file

__all__ = ["router", "scheme_values", "song_choices"]

router = APIRouter(dependencies=[Depends(TEACHERS)])
SEE_OTHER, WRONG = 303, 422
MOST_SONGS = 500
Field = Annotated[str, Form()]


async def read_form(request: Request) -> dict[str, str]:
    """The text fields of a form."""
    async with request.form() as form:
        return {name: value for name, value in form.items() if isinstance(value, str)}


Fields = Annotated[dict[str, str], Depends(read_form)]


@router.get("/classes/{class_uid}/assignments/new")
def new(context: Teacher, class_uid: str) -> Response:
    """The form for a new assignment."""
    return _new(context, class_uid, {})


@router.post("/classes/{class_uid}/assignments/new")
def make(context: Teacher, class_uid: str, form: Fields) -> Response:
    """Make an assignment, not open yet unless the form says when."""
    try:
        settings = read_settings(form, read_scheme(form))
        made = assignments_of(context).make(class_uid, settings)
    except ClassNotFound:
        raise
    except InputError as error:
        return _new(context, class_uid, form, str(error))
    return _to(made.uid)


@router.get("/assignments/{uid}")
def assignment(context: Teacher, uid: str) -> Response:
    """An assignment, to be changed."""
    return _page(context, uid)


@router.post("/assignments/{uid}")
def change(context: Teacher, uid: str, form: Fields) -> Response:
    """Change the settings of an assignment."""
    mine = assignments_of(context)
    _, before = mine.find(uid)
    # Once it has opened, weights are changed in the gradebook alone.
    has_opened = before.has_opened(context.clock())

    def work() -> None:
        scheme = before.scheme if has_opened else read_scheme(form)
        # A field shows whole minutes: what it does not change keeps its seconds.
        typed = read_settings(form, scheme)
        mine.change(uid, _with_seconds(before, typed))

    return _do(context, uid, work, form)


@router.get("/assignments/{uid}/sheets.zip")
def sheets(context: Teacher, uid: str) -> Response:
    """Sheets to write on and answer sheets, for a room without computers."""
    _, found = assignments_of(context).find(uid)
    content = pack_sheets(pack_of(context.store, found))
    return download_file(content, f"{found.title}.zip", "application/zip")


@router.post("/assignments/{uid}/open")
def open_now(context: Teacher, uid: str) -> Response:
    """Open an assignment now."""
    mine = assignments_of(context)
    _, before = mine.find(uid)
    return _do(context, uid, lambda: mine.change(uid, _settings(before, opens_at=context.clock())))


@router.post("/assignments/{uid}/items")
def add_item(context: Teacher, uid: str, form: Fields) -> Response:
    """Add what the form says."""
    mine = assignments_of(context)
    return _do(context, uid, lambda: mine.add_items(uid, read_plan(form)))


@router.post("/assignments/{uid}/items/{item_uid}/remove")
def remove_item(context: Teacher, uid: str, item_uid: str) -> Response:
    """Remove an item."""
    mine = assignments_of(context)
    return _do(context, uid, lambda: mine.remove_item(uid, item_uid))


@router.post("/assignments/{uid}/items/{item_uid}/move")
def move_item(
    context: Teacher, uid: str, item_uid: str, place: Annotated[int, Form()] = 1
) -> Response:
    """Move an item to a place."""
    mine = assignments_of(context)
    return _do(context, uid, lambda: mine.move_item(uid, item_uid, place))


@router.post("/assignments/{uid}/items/{item_uid}/song")
def new_song(context: Teacher, uid: str, item_uid: str) -> Response:
    """Give an item another song that is as difficult."""
    mine = assignments_of(context)
    return _do(context, uid, lambda: mine.change_item(uid, item_uid, new_song=True))


@router.post("/assignments/{uid}/items/{item_uid}/title")
def title_item(context: Teacher, uid: str, item_uid: str, title: Field = "") -> Response:
    """Give an item another title."""
    mine = assignments_of(context)
    return _do(context, uid, lambda: mine.change_item(uid, item_uid, title=title))


@router.post("/assignments/{uid}/items/{item_uid}/listens")
def allow_listens(
    context: Teacher, uid: str, item_uid: str, listens: Annotated[int, Form()] = 0
) -> Response:
    """Let an item be heard more often."""
    mine = assignments_of(context)
    return _do(context, uid, lambda: mine.allow_listens(uid, item_uid, listens))


@router.post("/assignments/{uid}/copy")
def copy(context: Teacher, uid: str, to: Field = "", songs: Field = "new") -> Response:
    """Copy an assignment to a class of the teacher's."""
    try:
        made = assignments_of(context).copy(uid, to, new_songs=songs == "new")
    except ClassNotFound:
        raise
    except InputError as error:
        return _page(context, uid, str(error))
    return _to(made.uid)


@router.post("/assignments/{uid}/results")
def show_results(context: Teacher, uid: str) -> Response:
    """Let the learners see their results."""
    mine = assignments_of(context)
    return _do(context, uid, lambda: mine.show_results(uid))


@router.post("/assignments/{uid}/delete")
def delete(context: Teacher, uid: str) -> Response:
    """Delete an assignment at which nobody has worked."""
    mine = assignments_of(context)
    found, _ = mine.find(uid)
    try:
        mine.delete(uid)
    except ClassNotFound:
        raise
    except InputError as error:
        return _page(context, uid, str(error))
    return RedirectResponse(f"/classes/{found.uid}", SEE_OTHER)


@router.get("/assignments/{uid}/preview")
def preview(context: Teacher, uid: str) -> Response:
    """An assignment as a learner sees it before beginning."""
    mine = assignments_of(context)
    found, assignment = mine.find(uid)
    values = {
        "class": found,
        "assignment": assignment,
        "items": context.store.assignments.items(assignment),
    }
    return context.page("assignment_preview.html", values)


@router.post("/assignments/{uid}/items/{item_uid}/try")
def try_item(teacher: Teacher, context: Context, uid: str, item_uid: str) -> Response:
    """Write an item as a learner would; it stands in the teacher's own record and in no class."""
    mine = assignments_of(teacher)
    _, assignment = mine.find(uid)
    found = teacher.store.assignments.item(item_uid)
    if found is None or found.assignment_id != assignment.id:
        raise ClassNotFound("There is no such item in this assignment.")
    item = teacher.store.assignments.with_song(found)
    exercise = handed_out_exercise(
        item.exercise,
        secrets.token_urlsafe(18),
        of=item.uid,
        listens=item.listens,
        one_pass=item.one_pass,
        take=item.take,
    )
    drill = context.drills.begin(exercise)
    return RedirectResponse(f"/write/{drill.record.key}", SEE_OTHER)


def scheme_values(scheme: Mapping[str, Any] | None) -> dict[str, Any]:
    """What a form about a scheme shows."""
    chosen = dict(scheme or {})
    name = chosen.pop("scheme", "")
    return {
        "schemes": tuple(SCHEMES),
        "scheme_name": name,
        "scheme_weights": [
            (part, label, chosen.get(part, ""), getattr(SCHEMES[name or "standard"], part))
            for part, label in SCHEME_WEIGHTS
        ],
        "weights": weights_table(SCHEMES[name or "standard"]),
    }


def _do(
    context: PersonContext,
    uid: str,
    work: Callable[[], Any],
    form: Mapping[str, str] | None = None,
) -> Response:
    """Do something to an assignment, and show it; what is wrong is said on its page."""
    try:
        work()
    except ClassNotFound:
        raise
    except InputError as error:
        return _page(context, uid, str(error), form)
    return _to(uid)


def _to(uid: str) -> Response:
    return RedirectResponse(f"/assignments/{uid}", SEE_OTHER)


def _settings(assignment: Assignment, **changes: Any) -> AssignmentSettings:
    values = {each.name: getattr(assignment, each.name) for each in fields(AssignmentSettings)}
    return AssignmentSettings(**values | changes)


def _with_seconds(before: Assignment, typed: AssignmentSettings) -> AssignmentSettings:
    """What was typed, with the moments that a form shows as they were as they are stored."""
    kept = {
        name: getattr(before, name)
        for name in ("opens_at", "closes_at", "late_until")
        if form_moment(getattr(before, name)) == form_moment(getattr(typed, name))
    }
    return replace(typed, **kept)


def _form_values(assignment: Assignment | None, form: Mapping[str, str]) -> dict[str, Any]:
    """What the form about settings shows: what was typed, or what is stored."""
    stored: dict[str, Any] = {
        "title": "",
        "opens_at": "",
        "closes_at": "",
        "late_until": "",
        "late_cost": "0",
        "pass_mark": "80",
        "tries": "1",
        "counts": COUNTS[0],
        "results": "closed",
    }
    if assignment is not None:
        stored |= {
            "title": assignment.title,
            "opens_at": form_moment(assignment.opens_at),
            "closes_at": form_moment(assignment.closes_at),
            "late_until": form_moment(assignment.late_until),
            "late_cost": f"{assignment.late_cost * 100:g}",
            "pass_mark": f"{assignment.pass_mark * 100:g}",
            "tries": str(assignment.tries),
            "counts": assignment.counts,
            "results": assignment.results,
        }
    shown = {name: form.get(name, value) for name, value in stored.items()}
    return {"f": shown, "counts": COUNTS, "results": RESULTS}


def _new(
    context: PersonContext, class_uid: str, form: Mapping[str, str], wrong: str = ""
) -> Response:
    found = classes_of(context).teach(class_uid)
    values = {"class": found, "wrong": wrong, "has_opened": False}
    values |= _form_values(None, form) | scheme_values(None)
    return context.page("assignment_new.html", values, WRONG if wrong else 200)


def _page(
    context: PersonContext, uid: str, wrong: str = "", form: Mapping[str, str] | None = None
) -> Response:
    mine = assignments_of(context)
    found, assignment = mine.find(uid)
    now = context.clock()
    values = {
        "class": found,
        "assignment": assignment,
        "items": context.store.assignments.items(assignment),
        "has_opened": assignment.has_opened(now),
        "shows_results": assignment.shows_results(now),
        "is_worked_at": context.store.assigned.any_handed_out(assignment.id),
        "now": now,
        "classes": [each for each in mine.classes.taught() if each.closed_at is None],
        "wrong": wrong,
    }
    values |= _form_values(assignment, form or {}) | scheme_values(assignment.scheme)
    values |= song_choices(context)
    return context.page("assignment.html", values, WRONG if wrong else 200)


def song_choices(context: PersonContext) -> dict[str, Any]:
    """What can be added to an assignment."""
    songs = context.as_learner.songbook.find(limit=MOST_SONGS).songs
    return {
        "levels": context.course,
        "recipes": context.recipes,
        "skills": [
            (level, skill, describe_skill(skill))
            for level in context.course
            for skill in level.introduced
        ],
        "songs": [song for song in songs if song.version.title],
    }
