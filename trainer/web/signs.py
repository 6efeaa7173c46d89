"""How to write it: how every sign is typed, how it is drawn and how it sounds; and the keys."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import Any

from fastapi import APIRouter, HTTPException
from fastapi.responses import HTMLResponse

from trainer.drill import play_sign
from trainer.exercise import Lesson, SignExample
from trainer.web.context import Context
from trainer.web.views.sheet import Sheet, sheet_of_chart

__all__ = ["router"]

router = APIRouter(prefix="/signs")
NOT_FOUND = 404


@dataclass(frozen=True, slots=True)
class SignRow:
    """A sign with its chart as drawn, and the lesson about it, if there is one."""

    sign: SignExample
    sheet: Sheet
    lesson: Lesson | None


@router.get("")
def signs(context: Context) -> HTMLResponse:
    """The page of signs."""
    lessons = {lesson.id: lesson for lesson in context.lessons}
    rows = (
        SignRow(sign, sheet_of_chart(sign.chart), lessons.get(sign.lesson))
        for sign in context.signs
    )
    groups = [(group, list(inside)) for group, inside in groupby(rows, lambda row: row.sign.group)]
    return context.page("signs.html", {"groups": groups})


@router.get("/{sign_id}/sound")
def sound(context: Context, sign_id: str) -> Any:
    """What a sign sounds like."""
    for sign in context.signs:
        if sign.id == sign_id:
            return context.sound(play_sign(sign))
    raise HTTPException(NOT_FOUND, "There is no such sign here.")
