"""Write: the band plays, the chart takes shape, and is handed in.

Nothing here sends anything of the song's chart but its title, meter, feel and key.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from trainer.band import tonic_chord
from trainer.drill import (
    FULL_SPEED,
    Drill,
    check_speed,
    play_song,
    submit,
)
from trainer.errors import NoListenLeft
from trainer.exercise import Exercise
from trainer.practice import is_speed_test
from trainer.store import ExerciseRecord
from trainer.web.context import Context, LearnerContext
from trainer.web.today import item_of

__all__ = ["router"]

router = APIRouter(prefix="/write/{exercise_id}")
SEE_OTHER, NOT_FOUND, CONFLICT = 303, 404, 409
# The result of an exercise is looked for among so many of the last attempts.
NEWEST = 100


@router.get("")
def write(context: Context, exercise_id: str) -> HTMLResponse:
    """The page to write on; where no drill is open, an offer to begin one."""
    drill = context.drills.find(exercise_id)
    if drill is None:
        return _offer(context, context.exercise(exercise_id))
    exercise = drill.exercise
    speed = FULL_SPEED if drill.position_s is None else drill.speed
    return context.page(
        "write.html",
        {
            "exercise": exercise,
            "level": context.level(exercise.level),
            "learner": context.learner.uid,
            "text": drill.progress.text,
            "stamps": drill.progress.stamps,
            "elapsed": drill.elapsed_s(context.clock()),
            "token": drill.token,
            "left": drill.listens_left,
            "free": exercise.loop or not exercise.listens,
            "position": drill.position_s,
            "speed": speed,
            "sound": _sound(context, exercise, speed, soon=True),
            "home": context.sound(tonic_chord(exercise.chart)),
            "given": item_of(context, exercise_id),
            "is_test": is_speed_test(exercise.recipe),
            "seen": drill.seen,
        },
    )


def _offer(context: LearnerContext, record: ExerciseRecord) -> HTMLResponse:
    """The page of an exercise at which no drill is open."""
    newest = context.store.attempts.history(context.learner, limit=NEWEST)
    return context.page(
        "begin.html",
        {
            "exercise": record.exercise,
            "level": context.level(record.exercise.level),
            "seen": context.store.attempts.has_seen(context.learner, record.song),
            "attempt": next((one for one in newest if one.exercise_id == record.key), None),
        },
    )


@router.post("/begin")
def begin(context: Context, exercise_id: str) -> Response:
    """Begin a drill at an exercise that the learner has, or go on with the open one."""
    drill: Drill | None = context.drills.begin_known(exercise_id)
    if drill is None:
        raise HTTPException(
            NOT_FOUND, "There is no such exercise here. Choose one on the start page."
        )
    return RedirectResponse(f"/write/{exercise_id}", SEE_OTHER)


@router.get("/sound")
def sound(context: Context, exercise_id: str, speed: Annotated[int, Query()] = FULL_SPEED) -> Any:
    """The song at another speed and the same pitch."""
    return _sound(context, context.exercise(exercise_id).exercise, check_speed(speed))


@router.post("/listen")
def listen(
    context: Context,
    exercise_id: str,
    speed: Annotated[int, Query()] = FULL_SPEED,
    token: str | None = None,
) -> Response:
    """Count a listen; 409 with `left` 0 when none is left."""
    try:
        drill = context.drills.listen(exercise_id, speed, token)
    except NoListenLeft as error:
        return JSONResponse({"left": 0, "error": str(error)}, CONFLICT)
    return JSONResponse({"left": drill.listens_left})


@router.post("/heard")
def heard(
    context: Context,
    exercise_id: str,
    position_s: float | None = None,
    paused: bool = False,
    token: str | None = None,
) -> Response:
    """Note how far the listen has got, without a position that it has ended."""
    context.drills.heard(exercise_id, position_s, paused=paused, token=token)
    return Response(status_code=204)


@router.put("/draft")
def keep_draft(
    context: Context,
    exercise_id: str,
    text: Annotated[str, Form()] = "",
    token: Annotated[str | None, Form()] = None,
    stamps: Annotated[str, Form()] = "",
) -> Response:
    """Keep what was typed, and when; after handing in there is nothing more to keep."""
    kept = text if text.strip() else ""
    context.drills.keep_text(exercise_id, kept, stamps=stamps if kept else "", token=token)
    return Response(status_code=204)


@router.post("")
def hand_in(
    context: Context,
    request: Request,
    exercise_id: str,
    text: Annotated[str, Form()] = "",
    token: Annotated[str, Form()] = "",
    stamps: Annotated[str, Form()] = "",
    paused: Annotated[bool, Form()] = False,
) -> Response:
    """Grade the chart; handing in twice gives the same attempt."""
    written = text.replace("\r\n", "\n")
    submitted = submit(
        context.drills, exercise_id, written, token=token, stamps=stamps, paused=paused
    )
    place = f"/result/{submitted.attempt.id}"
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"location": place})
    return RedirectResponse(place, SEE_OTHER)


def _sound(
    context: LearnerContext, exercise: Exercise, speed: int, *, soon: bool = False
) -> dict[str, Any]:
    return context.sound(play_song(exercise, speed), soon=soon)
