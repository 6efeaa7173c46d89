"""Preview: the sheet of a text that may be unfinished. It knows the song's meter and key only."""

from __future__ import annotations

from typing import Annotated

from anyio import CapacityLimiter, to_thread
from fastapi import APIRouter, Depends, HTTPException, Request
from fastapi.responses import HTMLResponse

from trainer.drill import MOST_TYPED, check_length
from trainer.errors import TextTooLong
from trainer.exercise import read_answer
from trainer.web.context import Context, LearnerContext
from trainer.web.views.sheet import Sheet, draft_sheet

__all__ = ["router"]

router = APIRouter()
# A character of UTF-8 has four bytes at most.
MOST_BYTES = 4 * MOST_TYPED
BAD_REQUEST = 400
# Whoever has more will mend the first ones first.
MOST_SLIPS = 5


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


@router.post("/preview/{exercise_id}")
async def preview(
    context: Context,
    request: Request,
    exercise_id: str,
    text: Annotated[str, Depends(read_text)],
) -> HTMLResponse:
    """The sheet as a fragment of HTML, for the text in the body."""
    limiter: CapacityLimiter = request.app.state.drawing
    return await to_thread.run_sync(_drawn, context, exercise_id, text, limiter=limiter)


def _drawn(context: LearnerContext, exercise_id: str, text: str) -> HTMLResponse:
    exercise = context.exercise(exercise_id).exercise
    drawn = draft_sheet(read_answer(exercise, text).parsed) if text.strip() else Sheet(())
    return context.page("preview.html", {"view": drawn, "most": MOST_SLIPS})
