"""The gradebook: the class by items and by skills, one song bar by bar, one learner's work."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Form, Query
from fastapi.responses import RedirectResponse, Response

from trainer.chart import format_chart
from trainer.classroom.class_sheet import ClassSheet, ClassSheets
from trainer.classroom.gradebook import Gradebook
from trainer.classroom.grades import WHOLE
from trainer.classroom.regrading import Change, Regrading
from trainer.classroom.spreadsheets import write_csv, write_xlsx
from trainer.drill import play_bars
from trainer.errors import ClassNotFound, InputError
from trainer.practice import describe_skill
from trainer.store import Member
from trainer.web.classroom.access import TEACHERS, PersonContext, Teacher
from trainer.web.classroom.assignments import Fields, scheme_values
from trainer.web.classroom.classes import assignments_of
from trainer.web.classroom.forms import read_scheme, read_share
from trainer.web.downloads import download_file
from trainer.web.numbers import RowNumber

__all__ = ["router"]

router = APIRouter(prefix="/gradebook", dependencies=[Depends(TEACHERS)])
SEE_OTHER, WRONG = 303, 422
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
Field = Annotated[str, Form()]


def _gradebook(context: PersonContext) -> Gradebook:
    return Gradebook(context.store, context.account, context.learner, context.clock)


def _regrading(context: PersonContext) -> Regrading:
    return Regrading(context.store, context.account, context.learner, context.clock)


def _sheets(context: PersonContext) -> ClassSheets:
    return ClassSheets(context.store, context.account, context.learner, context.clock)


@router.get("/{uid}")
def table(context: Teacher, uid: str) -> Response:
    """Learners by items."""
    found = _gradebook(context).table(uid)
    values = {
        "table": found,
        "shows_results": found.assignment.shows_results(context.clock()),
        "passback": context.store.lti.waiting(found.assignment.id),
    }
    return context.page("gradebook.html", values)


@router.get("/{uid}/skills")
def skills(context: Teacher, uid: str) -> Response:
    """Learners by skills."""
    found = _gradebook(context).skills(uid)
    names = {skill: describe_skill(skill) for skill in found.skills}
    return context.page("gradebook_skills.html", {"table": found, "names": names})


@router.get("/{uid}/scores.csv")
def scores_csv(context: Teacher, uid: str) -> Response:
    """The scores as CSV."""
    found = _gradebook(context).table(uid)
    return download_file(
        write_csv(found), f"{found.assignment.title}.csv", "text/csv; charset=utf-8"
    )


@router.get("/{uid}/scores.xlsx")
def scores_xlsx(context: Teacher, uid: str) -> Response:
    """The scores, tries and statistics as a workbook."""
    found = _gradebook(context).table(uid)
    return download_file(write_xlsx(found), f"{found.assignment.title}.xlsx", XLSX)


@router.get("/{uid}/learners/{account_uid}")
def learner(context: Teacher, uid: str, account_uid: str) -> Response:
    """One learner's work."""
    found = _gradebook(context).learner(uid, account_uid)
    return context.page("gradebook_learner.html", {"work": found, "whole": WHOLE})


@router.get("/{uid}/scheme")
def scheme(context: Teacher, uid: str) -> Response:
    """How the assignment is scored, to be changed."""
    return _scheme_page(context, uid)


@router.post("/{uid}/scheme")
def change_scheme(context: Teacher, uid: str, form: Fields) -> Response:
    """Show what other weights would do, or grade by them."""
    try:
        chosen = read_scheme(form)
        if form.get("do") == "change":
            _regrading(context).change_scheme(uid, chosen)
            return RedirectResponse(f"/gradebook/{uid}", SEE_OTHER)
        changes = _regrading(context).preview_scheme(uid, chosen)
    except ClassNotFound:
        raise
    except InputError as error:
        return _scheme_page(context, uid, str(error))
    return _scheme_page(context, uid, changes=changes, shown=chosen)


@router.get("/songs/{item_uid}")
def song(context: Teacher, item_uid: str, song: str = "") -> Response:
    """How the class wrote one song, bar by bar."""
    return _song_page(context, item_uid, song)


@router.get("/songs/{item_uid}/sound")
def song_sound(
    context: Teacher,
    item_uid: str,
    song: str = "",
    first: Annotated[int, Query(ge=1)] = 1,
    last: Annotated[int | None, Query(ge=1)] = None,
) -> Any:
    """The song as the band plays it, from a bar on."""
    sheet = _sheets(context).sheet(item_uid, song)
    chart = sheet.exercise.chart
    bars = len(chart.bars())
    end = min(last or bars, bars)
    return context.sound(play_bars(sheet.exercise, chart, min(first, bars), end))


@router.post("/songs/{item_uid}/chart")
def second_chart(
    context: Teacher,
    item_uid: str,
    song: Field = "",
    text: Field = "",
    comment: Field = "",
    do: Field = "show",
) -> Response:
    """Show what a second right chart would do, or accept it for everybody."""
    regrading = _regrading(context)
    try:
        if do == "accept":
            regrading.accept_chart(item_uid, song, text, comment)
            return _to_song(item_uid, song)
        changes = regrading.preview_chart(item_uid, song, text)
    except ClassNotFound:
        raise
    except InputError as error:
        return _song_page(context, item_uid, song, str(error), text=text, comment=comment)
    return _song_page(context, item_uid, song, changes=changes, text=text, comment=comment)


@router.post("/songs/{item_uid}/charts/{chart_id}/withdraw")
def withdraw_chart(
    context: Teacher, item_uid: str, chart_id: RowNumber, song: Field = ""
) -> Response:
    """Take an accepted chart back."""
    _regrading(context).withdraw_chart(item_uid, chart_id)
    return _to_song(item_uid, song)


@router.post("/attempts/{attempt_id}/bar")
def override(
    context: Teacher,
    attempt_id: RowNumber,
    bar: Annotated[int, Form()],
    credit: Field = "",
    comment: Field = "",
    back: Field = "",
) -> Response:
    """Give a bar another credit, or comment on it; bar 0 is the whole."""
    share = read_share(credit, "Credit") if credit.strip() else None
    _regrading(context).override(attempt_id, bar, share, comment)
    # Only an address of the gradebook is gone back to.
    place = back if back.startswith("/gradebook/") else "/classes"
    return RedirectResponse(place, SEE_OTHER)


def _to_song(item_uid: str, song: str) -> Response:
    return RedirectResponse(f"/gradebook/songs/{item_uid}?song={quote(song)}", SEE_OTHER)


def _song_page(
    context: PersonContext,
    item_uid: str,
    song: str,
    wrong: str = "",
    changes: tuple[Change, ...] | None = None,
    text: str = "",
    comment: str = "",
) -> Response:
    sheet = _sheets(context).sheet(item_uid, song)
    values = {
        "sheet": sheet,
        "played": format_chart(sheet.exercise.chart),
        "rows": _learner_rows(sheet),
        "worst": _worst(sheet),
        "changes": None if changes is None else _told(sheet, changes),
        "text": text,
        "comment": comment,
        "wrong": wrong,
    }
    return context.page("gradebook_song.html", values, WRONG if wrong else 200)


def _worst(sheet: ClassSheet) -> int:
    """The bar that most learners missed, the first where none did."""
    return max(sheet.bars, key=lambda bar: (len(bar.missed), -bar.number)).number


def _learner_rows(sheet: ClassSheet) -> list[tuple[Member, Any, float]]:
    """Everybody who answered, with the attempt and its score, best first."""
    rows = [
        (member, answer.attempt, answer.attempt.grade.score) for member, answer in sheet.answers
    ]
    return sorted(rows, key=lambda row: (-row[2], row[0].shown_name.casefold()))


def _told(sheet: ClassSheet, changes: tuple[Change, ...]) -> list[tuple[str, float, float]]:
    """What changes for whom: the name, and the score before and after."""
    names = {member.account_id: member.shown_name for member, _ in sheet.answers}
    return [
        (names.get(each.account_id, ""), each.before.score, each.after.score)
        for each in changes
        if not each.is_none
    ]


def _scheme_page(
    context: PersonContext,
    uid: str,
    wrong: str = "",
    changes: tuple[Change, ...] | None = None,
    shown: Mapping[str, Any] | None = None,
) -> Response:
    found, assignment = assignments_of(context).find(uid)
    values: dict[str, Any] = {
        "class": found,
        "assignment": assignment,
        "wrong": wrong,
        "changes": None,
    }
    values |= scheme_values(assignment.scheme if changes is None else shown)
    if changes is not None:
        members = {each.account_id: each for each in context.store.classes.members(found.id)}
        items = {each.id: each for each in context.store.assignments.items(assignment)}
        values["changes"] = [
            (members[each.account_id].shown_name, items[each.item_id].title, each)
            for each in changes
        ]
    return context.page("gradebook_scheme.html", values, WRONG if wrong else 200)
