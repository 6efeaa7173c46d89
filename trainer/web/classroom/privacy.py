"""What the server keeps of people and why; anybody may read it before they sign up."""

from __future__ import annotations

from fastapi import APIRouter, Depends
from fastapi.responses import HTMLResponse

from trainer.web.classroom.access import ANYBODY
from trainer.web.context import PublicContext

__all__ = ["router"]

router = APIRouter(dependencies=[Depends(ANYBODY)])


@router.get("/privacy")
def privacy(context: PublicContext) -> HTMLResponse:
    """Say what is kept and why."""
    return context.page("privacy.html")
