"""Write: the band plays, the chart takes shape, and is handed in.

Nothing here sends anything of the song's chart but its title, meter, feel and key.
"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, HTTPException, Query, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response

from trainer.band import tonic_chord
from trainer.errors import InputError, SettingsError
from trainer.exercise import Exercise
from trainer.practice import is_speed_test
from trainer.web.handing import hand_in
from trainer.web.playing import whole_song
from trainer.web.site import Here, Site
from trainer.web.sittings import FULL_SPEED, SPEEDS
from trainer.web.today import item_of

__all__ = ["MOST_TYPED", "TOO_LONG", "read_text", "router"]

router = APIRouter(prefix="/write/{exercise_id}")
# As `trainer.chart` reads at most.
MOST_TYPED = 20_000
MOST_BYTES = 4 * MOST_TYPED
TOO_LONG = (
    f"That is more than {MOST_TYPED:,} characters, longer than any chart. It stays in the field, "
    "but it is not drawn, kept or graded until it is shorter."
)
TOO_LARGE, NONE_LEFT = 413, 409


@router.get("")
def write(site: Here, exercise_id: str) -> Response:
    """The page to write on."""
    if site.known is None:
        return RedirectResponse(f"/hearing?then={exercise_id}", 303)
    kept, exercise = site.exercise(exercise_id)
    seat = site.sittings.take(kept, site.now())
    draft = site.store.drafts.load(site.learner, kept)
    return site.page(
        "write.html",
        {
            "exercise": exercise,
            "level": site.level(exercise.level),
            "text": draft.text if draft else "",
            "token": seat.token,
            "left": seat.left(exercise.listens),
            "free": exercise.loop or not exercise.listens,
            "sound": _sound(site, exercise, FULL_SPEED, soon=True),
            "home": site.sound(tonic_chord(exercise.chart)),
            "speeds": SPEEDS,
            "given": item_of(site, exercise_id),
            "is_test": is_speed_test(exercise.recipe),
        },
    )


@router.get("/sound")
def sound(site: Here, exercise_id: str, speed: Annotated[int, Query()] = FULL_SPEED) -> Any:
    """The song at another speed and the same pitch."""
    _, exercise = site.exercise(exercise_id)
    return _sound(site, exercise, _checked(speed))


@router.post("/listen")
def listen(site: Here, exercise_id: str, speed: Annotated[int, Query()] = FULL_SPEED) -> Response:
    """Count a listen; 409 when none is left."""
    kept, exercise = site.exercise(exercise_id)
    allowed = exercise.listens
    seat = site.sittings.listen(kept, _checked(speed), allowed, site.now())
    if seat is None:
        return JSONResponse({"left": 0}, NONE_LEFT)
    return JSONResponse({"left": seat.left(allowed)})


@router.put("/draft")
async def keep_draft(site: Here, exercise_id: str, request: Request, token: str = "") -> Response:
    """Keep what was typed; after handing in there is nothing more to keep."""
    text = await read_text(request)
    site.check_owner(token)
    if site.sittings.is_done(token):
        return Response(status_code=204)
    kept, _ = site.exercise(exercise_id)
    if text.strip():
        site.store.drafts.save(site.learner, kept, text, site.now())
    else:
        site.store.drafts.clear(site.learner, kept)
    return Response(status_code=204)


@router.post("")
def submit(
    site: Here,
    request: Request,
    exercise_id: str,
    text: Annotated[str, Form()] = "",
    token: Annotated[str, Form()] = "",
    stamps: Annotated[str, Form()] = "",
    paused: Annotated[bool, Form()] = False,
) -> Response:
    """Grade the chart; handing in twice gives the same attempt."""
    kept, exercise = site.exercise(exercise_id)
    written = text.replace("\r\n", "\n")
    if len(written) > MOST_TYPED:
        raise HTTPException(TOO_LARGE, TOO_LONG)
    if not written.strip():
        raise InputError(
            "Nothing is written yet. Write what you heard: a guess is worth more than nothing."
        )
    if not 0 < len(token) <= 100:
        raise InputError("The page did not say which handing-in this is. Reload it and try again.")
    site.check_owner(token)
    attempt = hand_in(site, kept, exercise, written, token, stamps, paused)
    place = f"/result/{attempt.id}"
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"location": place})
    return RedirectResponse(place, 303)


async def read_text(request: Request) -> str:
    """The text in a request's body. Raises HTTPException 413 kindly, 400 for what is no text."""
    data = bytearray()
    async for chunk in request.stream():
        data += chunk
        if len(data) > MOST_BYTES:
            raise HTTPException(TOO_LARGE, TOO_LONG)
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError as error:
        raise HTTPException(400, f"byte {error.start} is not UTF-8, expected text") from error
    if len(text) > MOST_TYPED:
        raise HTTPException(TOO_LARGE, TOO_LONG)
    return text


def _sound(site: Site, exercise: Exercise, speed: int, *, soon: bool = False) -> dict[str, Any]:
    return site.sound(whole_song(exercise, exercise.chart, speed), soon=soon)


def _checked(speed: int) -> int:
    if speed not in SPEEDS:
        raise SettingsError("speed", str(speed), "one of " + ", ".join(map(str, SPEEDS)))
    return speed
