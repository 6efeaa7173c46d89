"""A teacher's classes: who is in them, the code with which learners join, what is assigned."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Form
from fastapi.responses import RedirectResponse, Response

from trainer.classroom.accounts import fold_sign_in
from trainer.classroom.assignments import Assignments
from trainer.classroom.classes import Classes
from trainer.errors import AccountError, ClassError, ClassNotFound
from trainer.store import ClassRecord
from trainer.web.classroom.access import TEACHERS, PersonContext, Teacher

__all__ = ["assignments_of", "router"]

router = APIRouter(prefix="/classes", dependencies=[Depends(TEACHERS)])
SEE_OTHER, WRONG = 303, 422
Field = Annotated[str, Form()]


def classes_of(context: PersonContext) -> Classes:
    """The classes of whoever is signed in."""
    return Classes(context.store, context.account, context.clock)


def assignments_of(context: PersonContext) -> Assignments:
    """The assignments of whoever is signed in."""
    return Assignments(context.store, context.account, context.learner, context.clock)


@router.get("")
def classes(context: Teacher) -> Response:
    """The classes that the teacher teaches."""
    return _list(context)


@router.post("/new")
def make(context: Teacher, name: Field = "", term: Field = "") -> Response:
    """Make a class."""
    try:
        made = classes_of(context).make(name, term)
    except ClassError as error:
        return _list(context, str(error))
    return _to(made.uid)


@router.get("/{uid}")
def one_class(context: Teacher, uid: str) -> Response:
    """One class."""
    return _page(context, uid)


@router.post("/{uid}/name")
def rename(context: Teacher, uid: str, name: Field = "", term: Field = "") -> Response:
    """Give a class another name and term."""
    try:
        classes_of(context).rename(uid, name, term)
    except ClassError as error:
        return _page(context, uid, _wrong(error))
    return _to(uid)


@router.post("/{uid}/code")
def renew_code(context: Teacher, uid: str) -> Response:
    """Give a class a new join code."""
    try:
        classes_of(context).renew_code(uid)
    except ClassError as error:
        return _page(context, uid, _wrong(error))
    return _to(uid)


@router.post("/{uid}/code/end")
def end_code(context: Teacher, uid: str) -> Response:
    """End the join code."""
    classes_of(context).end_code(uid)
    return _to(uid)


@router.post("/{uid}/teachers")
def add_teacher(context: Teacher, uid: str, sign_in: Field = "") -> Response:
    """Let another teacher of this server teach the class."""
    try:
        classes_of(context).add_teacher(uid, fold_sign_in(sign_in))
    except (ClassError, AccountError) as error:
        return _page(context, uid, _wrong(error))
    return _to(uid)


@router.post("/{uid}/members/{account_uid}/remove")
def take_out(context: Teacher, uid: str, account_uid: str) -> Response:
    """Take somebody out of a class."""
    try:
        classes_of(context).take_out(uid, account_uid)
    except ClassError as error:
        return _page(context, uid, _wrong(error))
    is_self = account_uid == context.account.uid
    return RedirectResponse("/classes" if is_self else f"/classes/{uid}", SEE_OTHER)


@router.post("/{uid}/close")
def close(context: Teacher, uid: str) -> Response:
    """Close a class."""
    classes_of(context).close(uid, closed=True)
    return _to(uid)


@router.post("/{uid}/open")
def open_again(context: Teacher, uid: str) -> Response:
    """Open a closed class again."""
    classes_of(context).close(uid, closed=False)
    return _to(uid)


def _to(uid: str) -> Response:
    return RedirectResponse(f"/classes/{uid}", SEE_OTHER)


def _wrong(error: ClassError | AccountError) -> str:
    """What is said of an error on the class's page. Raises ClassNotFound where there is none."""
    if isinstance(error, ClassNotFound):
        raise error
    return str(error)


def _list(context: PersonContext, wrong: str = "") -> Response:
    taught = classes_of(context).taught()
    counts = context.store.classes.counts([each.id for each in taught])
    values = {"taught": taught, "counts": counts, "wrong": wrong}
    return context.page("classes.html", values, WRONG if wrong else 200)


def _page(context: PersonContext, uid: str, wrong: str = "") -> Response:
    mine = classes_of(context)
    found: ClassRecord = mine.teach(uid)
    members = mine.members(uid)
    values = {
        "class": found,
        "code": mine.code_of(uid),
        "join": f"{context.server.origin}/join",
        "learners": [each for each in members if not each.is_teacher],
        "teachers": [each for each in members if each.is_teacher],
        "assignments": context.store.assignments.of_class(found.id),
        "now": context.clock(),
        "wrong": wrong,
    }
    return context.page("class.html", values, WRONG if wrong else 200)
