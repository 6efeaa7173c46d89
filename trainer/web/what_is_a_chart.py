"""What is a number chart: what one looks like, why bands use them, and four bars to write."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, Response

from trainer.drill import (
    FIRST_CHART,
    PAGE_EXAMPLE,
    STEPS,
    BarCheck,
    check_first_bar,
    first_bars,
    play_first_bars,
)
from trainer.web.context import Context, templates
from trainer.web.views.sheet import sheet_of_chart

__all__ = ["router"]

router = APIRouter(prefix="/what-is-a-chart")
BARS = len(STEPS)
MOST_TYPED = 200
OTHER_KEY = "other"


@router.get("")
def what_is_a_chart(context: Context) -> HTMLResponse:
    """The page, before the first bar is written."""
    context.sound(play_first_bars(1), soon=True)
    return context.page("what_is_a_chart.html", _page_values(_values(0)))


@router.post("")
def write_bar(
    request: Request,
    context: Context,
    written: Annotated[int, Form(ge=0, lt=BARS)],
    text: Annotated[str, Form(max_length=MOST_TYPED)] = "",
) -> Response:
    """Say whether the next bar is right, and go on if it is; `written` bars stand there already."""
    found = check_first_bar(written + 1, text)
    values = _values(written + found.is_right, found, "" if found.is_right else text)
    if "application/json" not in request.headers.get("accept", ""):
        return context.page("what_is_a_chart.html", _page_values(values))
    return JSONResponse({"html": templates().get_template("_first_bars.html").render(values)})


@router.get("/sound")
def sound(context: Context, bars: Annotated[int, Query(ge=1, le=BARS)], key: str = "") -> Any:
    """The first bars as sound, in the chart's own key or the other one."""
    return context.sound(play_first_bars(bars, in_other_key=key == OTHER_KEY))


def _values(written: int, found: BarCheck | None = None, text: str = "") -> dict[str, Any]:
    """What the steps are drawn from: bars written so far, and what is said of the last one."""
    return {
        "written": written,
        "total": BARS,
        "step": STEPS[written] if written < BARS else None,
        "sheet": sheet_of_chart(first_bars(written)) if written else None,
        "said": found,
        "text": text,
    }


def _page_values(values: dict[str, Any]) -> dict[str, Any]:
    """What the whole page is drawn from."""
    return values | {"example": sheet_of_chart(PAGE_EXAMPLE), "key": FIRST_CHART.key}
