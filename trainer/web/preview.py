"""Preview: the sheet of a text that may be unfinished. It knows the song's meter and key only."""

from __future__ import annotations

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse

from trainer.chart import parse_tolerant
from trainer.web.playing import header_of
from trainer.web.site import Here
from trainer.web.views.sheet import Sheet, draft_sheet
from trainer.web.write import read_text

__all__ = ["router"]

router = APIRouter()
# Whoever has more will mend the first ones first.
MOST_SLIPS = 5


@router.post("/preview/{exercise_id}")
async def preview(site: Here, exercise_id: str, request: Request) -> HTMLResponse:
    """The sheet as a fragment of HTML, for the text in the body."""
    text = await read_text(request)
    _, exercise = site.exercise(exercise_id)
    drawn = (
        draft_sheet(parse_tolerant(text, header_of(exercise.chart))) if text.strip() else Sheet(())
    )
    return site.page("preview.html", {"view": drawn, "most": MOST_SLIPS})
