"""Handouts: a chart on one printed page, as it is given to the band, and its text."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import HTMLResponse, PlainTextResponse

from trainer.chart import format_chart
from trainer.web.context import Context
from trainer.web.result import chart_of, result_of, sheet_of_side
from trainer.web.views.page import print_size

__all__ = ["router"]

router = APIRouter(prefix="/handout/{attempt_id}")


@router.get("/{side}")
def handout(context: Context, attempt_id: int, side: str) -> HTMLResponse:
    """A chart of a graded attempt, played or written, as it is handed to the band."""
    result = result_of(context, attempt_id)
    view = sheet_of_side(result, side)
    return context.page(
        "handout.html",
        {
            "attempt": result.detail.record,
            "chart": chart_of(result, side),
            "side": side,
            "view": view,
            "size": print_size(view),
        },
    )


@router.get("/{side}/text")
def text(context: Context, attempt_id: int, side: str) -> PlainTextResponse:
    """The chart's text."""
    return PlainTextResponse(format_chart(chart_of(result_of(context, attempt_id), side)))
