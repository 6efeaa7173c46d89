"""Live dictation at the teacher's desk: begin one, play it to the room, see how it goes, end it."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Form, Query
from fastapi.responses import JSONResponse, RedirectResponse, Response

from trainer.classroom.dictation import DictationDesk
from trainer.classroom.dictation_answers import bar_answers, dictation_table, item_of
from trainer.classroom.items import ItemPlan
from trainer.drill import play_part
from trainer.errors import AssignmentError, ClassNotFound, InputError
from trainer.store import Dictation
from trainer.web.classroom.access import TEACHERS, PersonContext, Teacher
from trainer.web.classroom.assignments import song_choices
from trainer.web.classroom.classes import assignments_of, classes_of
from trainer.web.classroom.forms import read_number

__all__ = ["router"]

router = APIRouter(dependencies=[Depends(TEACHERS)])
SEE_OTHER, WRONG = 303, 422
Field = Annotated[str, Form()]
Bar = Annotated[int, Query(ge=1)]


def _desk(context: PersonContext) -> DictationDesk:
    return DictationDesk(context.store, context.account, context.learner, context.clock)


@router.get("/classes/{uid}/dictations")
def dictations(context: Teacher, uid: str) -> Response:
    """The dictations of a class, and a form to begin another."""
    return _list(context, uid)


@router.post("/classes/{uid}/dictations")
def start(
    context: Teacher, uid: str, what: Field = "", title: Field = "", tempo: Field = "100"
) -> Response:
    """Begin a dictation with the song that the form says."""
    kind, _, name = what.partition(":")
    try:
        if kind == "item":
            made = _desk(context).start_item(uid, name, title)
        else:
            plan = ItemPlan(kind, name, tempo=int(read_number(tempo, "Tempo")))
            made = _desk(context).start(uid, plan, title)
    except ClassNotFound:
        raise
    except InputError as error:
        return _list(context, uid, str(error))
    return RedirectResponse(f"/dictations/{made.uid}", SEE_OTHER)


@router.get("/dictations/{uid}")
def desk(context: Teacher, uid: str) -> Response:
    """The desk: play, stop, replay, who is where."""
    mine = _desk(context)
    found = mine.find(uid)
    assignment = mine.assignment(found)
    values = _about(context, found) | {
        "assignment": assignment,
        "shows_results": assignment is not None and assignment.shows_results(context.clock()),
        "items": [] if assignment is None else context.store.assignments.items(assignment),
        "left": sum(
            each.attempt_id is None and bool(each.text.strip())
            for each in context.store.dictations.answers(found)
        ),
    }
    return context.page("dictation_desk.html", values)


@router.get("/dictations/{uid}/screen")
def screen(context: Teacher, uid: str) -> Response:
    """What can be shown on the room's screen: the answers to a bar, without names."""
    return context.page("dictation_screen.html", _about(context, _desk(context).find(uid)))


@router.get("/dictations/{uid}/table")
def table(context: Teacher, uid: str) -> Response:
    """Who is where and how it goes, for the desk's script."""
    found = _desk(context).find(uid)
    return JSONResponse(
        {"phase": found.phase} | asdict(dictation_table(context.store, found, context.clock()))
    )


@router.get("/dictations/{uid}/answers")
def answers(context: Teacher, uid: str, bar: Bar = 1) -> Response:
    """The class's answers to a bar, without names."""
    found = _desk(context).find(uid)
    return JSONResponse(asdict(bar_answers(context.store, found, bar)))


@router.get("/dictations/{uid}/sound")
def sound(context: Teacher, uid: str, first: Bar = 1, last: Bar | None = None) -> Any:
    """The song as the band plays it, or some bars of it."""
    found = _desk(context).find(uid)
    end = found.bars if last is None else last
    if not first <= end <= found.bars:
        raise AssignmentError(f"The song has bars 1 to {found.bars}. Found {first} to {end}.")
    exercise = item_of(found, context.store.dictations.song(found)).exercise
    return context.sound(play_part(exercise, first, end))


@router.post("/dictations/{uid}/play")
def play(
    context: Teacher,
    uid: str,
    first: Annotated[int, Form()] = 1,
    last: Annotated[int | None, Form()] = None,
) -> Response:
    """Note that the band begins to play in the teacher's browser."""
    return JSONResponse({"phase": _desk(context).play(uid, first, last).phase})


@router.post("/dictations/{uid}/stop")
def stop(context: Teacher, uid: str) -> Response:
    """Note that the band has stopped."""
    return JSONResponse({"phase": _desk(context).stop(uid).phase})


@router.post("/dictations/{uid}/end")
def end(context: Teacher, uid: str) -> Response:
    """End the dictation, and grade what was written."""
    _desk(context).end(uid)
    return RedirectResponse(f"/dictations/{uid}", SEE_OTHER)


def _about(context: PersonContext, found: Dictation) -> dict[str, Any]:
    return {"dictation": found, "class": context.store.classes.get(found.class_id)}


def _list(context: PersonContext, uid: str, wrong: str = "") -> Response:
    found = classes_of(context).teach(uid)
    assignments = assignments_of(context).of_class(uid)
    items = context.store.assignments.items_of([each.id for each in assignments])
    titles = {each.id: each.title for each in assignments}
    values = {
        "class": found,
        "dictations": context.store.dictations.of_class(found.id),
        "items": [(titles[each.assignment_id], each) for each in items if each.same_song],
        "wrong": wrong,
    }
    values |= song_choices(context)
    return context.page("dictations.html", values, WRONG if wrong else 200)
