"""Songs to keep: a chart on one printed page, and its text."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, PlainTextResponse

from trainer.chart import format_chart
from trainer.web.result import find_attempt
from trainer.web.site import Here
from trainer.web.views.page import print_size

__all__ = ["router"]

router = APIRouter(prefix="/keep/{attempt_id}")


@router.get("/{side}")
def keep(site: Here, attempt_id: int, side: str) -> HTMLResponse:
    """A chart of a graded attempt, played or written, as it is handed to the band."""
    attempt = find_attempt(site, attempt_id)
    view = attempt.sheet(side)
    return site.page(
        "keep.html",
        {
            "attempt": attempt.detail.record,
            "chart": attempt.chart(side),
            "side": side,
            "view": view,
            "size": print_size(view),
        },
    )


@router.get("/{side}/text")
def text(site: Here, attempt_id: int, side: str) -> PlainTextResponse:
    """The chart's text."""
    return PlainTextResponse(format_chart(find_attempt(site, attempt_id).chart(side)))
