"""Live dictation at a learner's seat: the usual sheet without any player.

Nothing here sends anything of the song. The page asks once a second whether something has changed;
while nothing has, the answer is empty and costs one read.
"""

from __future__ import annotations

from functools import partial
from typing import Annotated

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Depends, Form, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response

from trainer.chart import Header, Meter, parse_tolerant
from trainer.classroom.dictation_seat import DictationSeat
from trainer.store import DictationState
from trainer.web.classroom.access import SIGNED_IN
from trainer.web.context import Context, LearnerContext
from trainer.web.views.sheet import Sheet, sheet_of_text
from trainer.web.write import read_text, shown_lines

__all__ = ["router"]

router = APIRouter(dependencies=[Depends(SIGNED_IN)])


def _seat(context: LearnerContext) -> DictationSeat:
    assert context.account is not None
    return DictationSeat(context.store, context.account, context.clock)


@router.get("/assigned/dictations/{uid}")
def seat(context: Context, uid: str) -> Response:
    """The page to write on."""
    values = {"state": _seat(context).state(uid), "learner": context.learner.uid}
    return context.page("dictation_seat.html", values)


@router.get("/assigned/dictations/{uid}/phase")
def phase(context: Context, uid: str, revision: int = 0) -> Response:
    """The phase; nothing while the revision is the one that the page has."""
    state = _seat(context).state(uid)
    if state.revision == revision:
        return Response(status_code=204)
    return _told(state)


@router.put("/assigned/dictations/{uid}/text")
def keep(context: Context, uid: str, text: Annotated[str | None, Form()] = None) -> Response:
    """Keep what was typed; without a text, note that the page is there."""
    _seat(context).keep(uid, None if text is None else text.replace("\r\n", "\n"))
    return Response(status_code=204)


@router.post("/assigned/dictations/{uid}/hand-in")
def hand_in(context: Context, uid: str, text: Annotated[str, Form()] = "") -> Response:
    """Hand in; it is graded when the teacher ends the dictation."""
    return _told(_seat(context).hand_in(uid, text.replace("\r\n", "\n")))


@router.post("/preview/dictations/{uid}")
async def preview(
    context: Context,
    request: Request,
    uid: str,
    text: Annotated[str, Depends(read_text)],
    shown: Annotated[frozenset[str], Depends(shown_lines)],
) -> HTMLResponse:
    """The sheet as a fragment of HTML, in the song's meter and no key. A line that the page shows
    already is left out but for the key by which the page finds it."""
    limiter: CapacityLimiter = request.app.state.preview_limiter
    return await to_thread.run_sync(partial(_draw, context, uid, text, shown), limiter=limiter)


def _draw(context: LearnerContext, uid: str, text: str, shown: frozenset[str]) -> HTMLResponse:
    meter: Meter = _seat(context).meter(uid)
    parsed = parse_tolerant(text, Header(meter=meter))
    sheet = sheet_of_text(parsed) if text.strip() else Sheet(())
    return context.page("song_preview.html", {"sheet": sheet, "shown": shown})


def _told(state: DictationState) -> Response:
    return JSONResponse(
        {"phase": state.phase, "revision": state.revision, "can_write": state.can_write}
    )
