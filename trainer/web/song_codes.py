"""Codes of songs: a song given to a friend, who writes the same one without seeing its chart."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from trainer.drill import level_of
from trainer.errors import SettingsError
from trainer.exercise import Catalogue, exercise_of_code, song_code
from trainer.web.context import Context, LearnerContext
from trainer.web.result import result_of

__all__ = ["router"]

router = APIRouter()
SEE_OTHER, WRONG = 303, 422
MOST_CODE = 5000


def _catalogue(context: LearnerContext) -> Catalogue:
    return Catalogue(context.course, context.recipes, context.songs)


@router.get("/result/{attempt_id}/code")
def give(context: Context, request: Request, attempt_id: int) -> HTMLResponse:
    """The code of a song that was written, and the link with it."""
    exercise = result_of(context, attempt_id).exercise
    code = song_code(exercise, _catalogue(context))
    link = f"{request.url.scheme}://{request.url.netloc}/code?code={code}"
    values = {"attempt_id": attempt_id, "exercise": exercise, "code": code, "link": link}
    return context.page("song_code_given.html", values)


@router.get("/code")
def look(context: Context, code: Annotated[str, Query(max_length=MOST_CODE)] = "") -> HTMLResponse:
    """What a code is for, before the song is begun."""
    if not code.strip():
        return context.page("song_code.html", {"code": "", "exercise": None, "wrong": ""})
    try:
        exercise = exercise_of_code(code, _catalogue(context))
    except SettingsError as error:
        wrong = {"code": code, "exercise": None, "wrong": str(error)}
        return context.page("song_code.html", wrong, WRONG)
    level = level_of(exercise.level_id)
    return context.page(
        "song_code.html", {"code": code, "exercise": exercise, "wrong": "", "level": level}
    )


@router.post("/code")
def begin(context: Context, code: Annotated[str, Form(max_length=MOST_CODE)] = "") -> Response:
    """Begin the exercise of a code."""
    drill = context.drills.begin(exercise_of_code(code, _catalogue(context)))
    return RedirectResponse(f"/write/{quote(drill.record.key)}", SEE_OTHER)
