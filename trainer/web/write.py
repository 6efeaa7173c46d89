"""Write: the band plays, the chart takes shape, and is handed in.

Nothing here sends anything of the song's chart but its title, meter, feel and key; the preview, the
sheet of a text that may be unfinished, knows the meter and the key only.
"""

from __future__ import annotations

import re
from functools import partial
from typing import Annotated, Any

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Depends, Form, HTTPException, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from trainer.band import tonic_chord
from trainer.classroom.handing_out import IS_HANDED_IN, assignment_of, place_of
from trainer.drill import (
    FULL_SPEED,
    MOST_TYPED,
    SPEEDS,
    Drill,
    beat_times_s,
    check_length,
    check_speed,
    level_of,
    play_song,
    submit,
)
from trainer.errors import AssignmentClosed, NoListenLeft, TextTooLong
from trainer.exercise import EXCERPT, Exercise, Lesson, read_answer
from trainer.practice import is_speed_test
from trainer.store import ExerciseRecord
from trainer.web.context import Context, LearnerContext
from trainer.web.today import set_place
from trainer.web.views.sheet import Sheet, sheet_of_text

__all__ = ["router"]

router = APIRouter()
SEE_OTHER, BAD_REQUEST, NOT_FOUND, CONFLICT = 303, 400, 404, 409
CHORD_NAMES = re.compile(r"^\s*chords\s*:.*$", re.IGNORECASE | re.MULTILINE)
# The result of an exercise is looked for among this many of the latest attempts.
NEWEST = 100
# A character of UTF-8 has four bytes at most.
MOST_BYTES = 4 * MOST_TYPED
# Names the lines of the sheet that the page shows, by their keys, with spaces between.
SHOWN_HEADER = "shown-lines"


@router.get("/write/{exercise_id}")
def write(context: Context, exercise_id: str) -> Response:
    """The page to write on; where no drill is open, an offer to begin one."""
    if EXCERPT in context.exercise(exercise_id).exercise.recipe:
        return RedirectResponse(f"/bars/{exercise_id}", SEE_OTHER)
    drill = context.drills.find(exercise_id)
    if drill is None:
        return _offer(context, context.exercise(exercise_id))
    exercise = drill.exercise
    speed = FULL_SPEED if drill.position_s is None else drill.speed
    return context.page(
        "write.html",
        {
            "exercise": exercise,
            "level": level_of(exercise.level_id),
            "learner": context.learner.uid,
            "text": drill.progress.text,
            "stamps": drill.progress.stamps,
            "elapsed": drill.elapsed_s(context.clock()),
            "token": drill.token,
            "listens_left": drill.listens_left,
            "can_go_back": exercise.loop or not exercise.listens,
            "position": drill.position_s,
            "speed": speed,
            "speeds": SPEEDS,
            "sound": _sound(context, exercise, speed, soon=True),
            "tonic": context.sound(tonic_chord(exercise.chart)),
            "set_place": set_place(context, exercise_id),
            "work": assignment_of(context.store, drill.record),
            "is_test": is_speed_test(exercise.recipe),
            "seen": drill.seen,
            "lessons": _lessons(context, drill),
        },
    )


def _lessons(context: LearnerContext, drill: Drill) -> tuple[Lesson, ...]:
    """The lessons to hear before the first exercise of a level; none once anything is typed or the
    band has played."""
    level = level_of(drill.exercise.level_id)
    if level is None or drill.progress.text or drill.progress.listens:
        return ()
    return context.offered_lessons([level])


def _offer(context: LearnerContext, record: ExerciseRecord) -> HTMLResponse:
    """The page of an exercise at which no drill is open."""
    newest = context.store.attempts.history(context.learner, limit=NEWEST)
    return context.page(
        "begin.html",
        {
            "exercise": record.exercise,
            "level": level_of(record.exercise.level_id),
            "seen": context.store.attempts.has_seen(context.learner, record.song, context.clock()),
            "attempt": next((one for one in newest if one.exercise_id == record.key), None),
        },
    )


@router.post("/write/{exercise_id}/begin")
def begin(context: Context, exercise_id: str) -> Response:
    """Begin a drill at an exercise that the learner has, or go on with the open one."""
    _check_not_handed_in(context, exercise_id)
    drill: Drill | None = context.drills.begin_known(exercise_id)
    if drill is None:
        raise HTTPException(
            NOT_FOUND, "There is no such exercise here. Choose one on the start page."
        )
    return RedirectResponse(f"/write/{exercise_id}", SEE_OTHER)


def _check_not_handed_in(context: LearnerContext, exercise_id: str) -> None:
    """Raise AssignmentClosed for a song handed in to a class that does not show the result yet."""
    place = place_of(context.store, context.exercise(exercise_id), context.clock())
    if place is not None and place.is_handed_in:
        raise AssignmentClosed(IS_HANDED_IN)


@router.get("/write/{exercise_id}/sound")
def sound(context: Context, exercise_id: str, speed: Annotated[int, Query()] = FULL_SPEED) -> Any:
    """The song at another speed and the same pitch."""
    return _sound(context, context.exercise(exercise_id).exercise, check_speed(speed))


@router.post("/write/{exercise_id}/listen")
def listen(
    context: Context,
    exercise_id: str,
    speed: Annotated[int, Query()] = FULL_SPEED,
    token: str | None = None,
) -> Response:
    """Count a listen; 409 with `listens_left` 0 when none is left."""
    try:
        drill = context.drills.listen(exercise_id, speed, token)
    except NoListenLeft as error:
        return JSONResponse({"listens_left": 0, "error": str(error)}, CONFLICT)
    return JSONResponse({"listens_left": drill.listens_left})


@router.post("/write/{exercise_id}/speed")
def change_speed(
    context: Context,
    exercise_id: str,
    speed: Annotated[int, Query()],
    token: str | None = None,
) -> Response:
    """Play the listen under way on at another speed; `speed` is what it counts as from now on."""
    drill = context.drills.change_speed(exercise_id, speed, token)
    return JSONResponse({"speed": drill.speed})


@router.get("/write/{exercise_id}/light")
def light(context: Context, exercise_id: str) -> Response:
    """When the beats of each bar sound at full speed, and whether bars may be counted.

    404 where the exercise offers no light: when bars begin is part of what is asked there.
    """
    exercise = context.exercise(exercise_id).exercise
    if exercise.help.light == "off":
        raise HTTPException(NOT_FOUND, "This exercise has no light.")
    beats_s = [[round(time, 3) for time in bar] for bar in beat_times_s(exercise)]
    return JSONResponse({"beats_s": beats_s, "counts_bars": exercise.help.light == "bars"})


@router.post("/write/{exercise_id}/heard")
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


@router.put("/write/{exercise_id}/draft")
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


@router.post("/write/{exercise_id}")
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
    written = text.replace("\r\n", "\n") if _is_begun(text) else ""
    record = context.store.exercises.get(context.learner, exercise_id)
    in_class = place_of(context.store, record, context.clock()) if record is not None else None
    submitted = submit(
        context.drills,
        exercise_id,
        written,
        token=token,
        stamps=stamps,
        paused=paused,
        place=in_class,
    )
    place = f"/result/{submitted.attempt.id}"
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"location": place})
    return RedirectResponse(place, SEE_OTHER)


def _sound(
    context: LearnerContext, exercise: Exercise, speed: int, *, soon: bool = False
) -> dict[str, Any]:
    return context.sound(play_song(exercise, speed), soon=soon)


async def read_text(request: Request) -> str:
    """The text in a request's body. Raises TextTooLong, HTTPException 400 for what is no text."""
    data = bytearray()
    async for chunk in request.stream():
        data += chunk
        if len(data) > MOST_BYTES:
            raise TextTooLong(MOST_TYPED)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise HTTPException(
            BAD_REQUEST, f"byte {error.start} is not UTF-8, expected text"
        ) from error
    check_length(text)
    return text


def shown_lines(request: Request) -> frozenset[str]:
    """The keys of the lines that the page shows, as the request names them."""
    return frozenset(request.headers.get(SHOWN_HEADER, "").split())


@router.post("/preview/{exercise_id}")
async def preview(
    context: Context,
    request: Request,
    exercise_id: str,
    text: Annotated[str, Depends(read_text)],
    shown: Annotated[frozenset[str], Depends(shown_lines)],
) -> HTMLResponse:
    """The sheet as a fragment of HTML, for the text in the body; of a line that the page shows
    already, only its key."""
    limiter: CapacityLimiter = request.app.state.preview_limiter
    draw = partial(_draw_preview, context, exercise_id, text, shown)
    return await to_thread.run_sync(draw, limiter=limiter)


def _draw_preview(
    context: LearnerContext, exercise_id: str, text: str, shown: frozenset[str]
) -> HTMLResponse:
    exercise = context.exercise(exercise_id).exercise
    sheet = sheet_of_text(read_answer(exercise, text).parsed) if _is_begun(text) else Sheet(())
    return context.page("preview.html", {"sheet": sheet, "shown": shown})


def _is_begun(text: str) -> bool:
    """Whether a text has more than the line that says how its chords are written."""
    return bool(CHORD_NAMES.sub("", text).strip())
