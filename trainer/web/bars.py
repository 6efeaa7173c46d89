"""Bars: the learner loops missed bars and writes them until they are right twice in a row."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from trainer.band import tonic_chord
from trainer.drill import (
    FULL_SPEED,
    SPEEDS,
    BarPractice,
    Result,
    are_right,
    begin_bars,
    check_speed,
    find_bars,
    loop_s,
    play_song,
    practised_bars,
    submit,
)
from trainer.exercise import Exercise
from trainer.store import ExerciseRecord
from trainer.web.context import Context, LearnerContext, templates
from trainer.web.result import result_of
from trainer.web.views.result import result_view

__all__ = ["router"]

router = APIRouter()
SEE_OTHER, NOT_FOUND = 303, 404
NO_BARS = "There are no bars to practise here. Choose a result in History."
# Another key is a fourth up: in twelve steps it has been in all of them.
FOURTH = 5
# What is said of a stretch, by how often it was right in a row.
STATES = ("not yet", "right once", "right twice ✓")


def _practice_of(context: LearnerContext, record: ExerciseRecord) -> BarPractice:
    """The practice that an exercise belongs to. Raises HTTPException 404."""
    found = find_bars(context.store, context.learner, record)
    if found is None:
        raise HTTPException(NOT_FOUND, NO_BARS)
    return found


@router.post("/result/{attempt_id}/practise")
def practise(
    context: Context, attempt_id: int, bar: Annotated[str, Form()] = ""
) -> RedirectResponse:
    """Begin to practise what an attempt missed: the stretch with a bar of the song, if one has it,
    else the first that is not done."""
    result = result_of(context, attempt_id)
    practice = practised_bars(context.store, context.learner, result)
    if practice is None:
        raise HTTPException(NOT_FOUND, NO_BARS)
    wanted = int(bar) if bar.isdecimal() and len(bar) < 9 else 0
    numbers = [k for k, each in enumerate(practice.stretches) if wanted in each.missed]
    return _begin(context, practice, numbers[0] if numbers else practice.number, 0)


@router.post("/bars/{exercise_id}/begin")
def begin(
    context: Context,
    exercise_id: str,
    number: Annotated[int, Form(ge=0)],
    shift: Annotated[int, Form(ge=0, le=11)] = 0,
) -> RedirectResponse:
    """Begin a try at one of the stretches, in a key that is some semitones higher."""
    practice = _practice_of(context, context.exercise(exercise_id))
    if number >= len(practice.stretches):
        raise HTTPException(NOT_FOUND, NO_BARS)
    return _begin(context, practice, number, shift)


def _begin(
    context: LearnerContext, practice: BarPractice, number: int, shift: int
) -> RedirectResponse:
    drill = begin_bars(context.drills, practice, number, shift)
    return RedirectResponse(f"/bars/{drill.record.key}", SEE_OTHER)


@router.get("/bars/{exercise_id}")
def bars(
    context: Context, exercise_id: str, tried: Annotated[int | None, Query()] = None
) -> HTMLResponse:
    """The page to practise a stretch on; `tried` is the attempt to tell about."""
    practice = _practice_of(context, context.exercise(exercise_id))
    exercise = practice.exercise(practice.number, practice.shift)
    drill = context.drills.find(exercise_id)
    lead_in = f"{practice.lead_in} " if practice.lead_in else ""
    return context.page(
        "bars.html",
        {
            "practice": practice,
            "song": practice.result.exercise,
            "attempt": practice.result.detail.record,
            "exercise": exercise,
            "learner": context.learner.uid,
            "token": drill.token if drill is not None else "",
            "text": (drill.progress.text if drill is not None else "") or lead_in,
            "lead_in": lead_in,
            "sound": _sound(context, exercise, FULL_SPEED, soon=True),
            "tonic": context.sound(tonic_chord(exercise.chart)),
            "speeds": SPEEDS,
            "other_key": (practice.shift + FOURTH) % 12,
            "states": _states(practice),
            "told": _told(result_of(context, tried), practice) if tried is not None else "",
        },
    )


@router.post("/bars/{exercise_id}")
def hand_in(
    context: Context,
    request: Request,
    exercise_id: str,
    text: Annotated[str, Form()] = "",
    token: Annotated[str, Form()] = "",
) -> Response:
    """Say whether the bars are right, or what is wrong, and begin the next try."""
    record = context.exercise(exercise_id)
    _practice_of(context, record)
    done = submit(context.drills, exercise_id, text.replace("\r\n", "\n"), token=token)
    practice = _practice_of(context, record)
    drill = begin_bars(context.drills, practice, practice.number, practice.shift)
    if "application/json" not in request.headers.get("accept", ""):
        return RedirectResponse(f"/bars/{exercise_id}?tried={done.attempt.id}", SEE_OTHER)
    told = _told(result_of(context, done.attempt.id), practice)
    return JSONResponse({"told": told, "token": drill.token, "states": _states(practice)})


@router.get("/bars/{exercise_id}/sound")
def sound(context: Context, exercise_id: str, speed: Annotated[int, Query()] = FULL_SPEED) -> Any:
    """The stretch at a speed, and where its loop begins and ends."""
    return _sound(context, context.exercise(exercise_id).exercise, check_speed(speed))


def _sound(
    context: LearnerContext, exercise: Exercise, speed: int, *, soon: bool = False
) -> dict[str, Any]:
    made = context.sound(play_song(exercise, speed), soon=soon)
    start_s, end_s = loop_s(exercise, speed)
    return made | {"loop_start_s": round(start_s, 3), "loop_end_s": round(end_s, 3)}


def _states(practice: BarPractice) -> list[str]:
    """How each stretch stands, in words."""
    return [STATES[rights] for rights in practice.rights]


def _told(tried: Result, practice: BarPractice) -> str:
    """What is said of a try, as HTML."""
    view = result_view(tried.report, tried.exercise.chart, tried.answer.parsed)
    values = {
        "practice": practice,
        "view": view,
        "is_right": are_right(tried.detail.bars),
        "exercise": practice.exercise(practice.number, practice.shift),
        "attempt": practice.result.detail.record,
    }
    return templates().get_template("_told.html").render(values)
