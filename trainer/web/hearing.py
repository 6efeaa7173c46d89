"""Hearing: the caution before the first sound, and a calm chord to set the volume with."""

from __future__ import annotations

import re
from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from trainer.band import level_check_chord
from trainer.sound import HEARING_CAUTION
from trainer.web.context import PublicContext

__all__ = ["router"]

router = APIRouter(prefix="/hearing")
EXERCISE_ID = re.compile(r"[0-9a-zA-Z-]{1,200}")


@router.get("")
def hearing(context: PublicContext, then: str = "") -> HTMLResponse:
    """The caution, whole, and the volume check."""
    lines = HEARING_CAUTION.strip().splitlines()
    return context.page(
        "hearing.html",
        {
            "caution": paragraphs(lines),
            "sound": context.sound(level_check_chord()),
            "is_new": context.learner is None or context.learner.caution_at is None,
            "then": then if EXERCISE_ID.fullmatch(then) else "",
        },
    )


@router.post("")
def understood(context: PublicContext, then: Annotated[str, Form()] = "") -> Response:
    """Remember that the caution was shown; whoever is the first here is added."""
    learners, now = context.store.learners, context.clock()
    learners.caution_shown(context.learner or learners.get_or_add(context.owner, now), now)
    place = f"/write/{then}" if EXERCISE_ID.fullmatch(then) else "/"
    return RedirectResponse(place, 303)


def paragraphs(lines: list[str]) -> list[tuple[bool, str]]:
    """The caution's paragraphs, True for those of its list."""
    found: list[tuple[bool, str]] = []
    for line in lines:
        if line.startswith("- "):
            found.append((True, line[2:].strip()))
        elif found and (line.startswith("  ") or (line.strip() and not found[-1][0])):
            found[-1] = (found[-1][0], f"{found[-1][1]} {line.strip()}")
        elif line.strip():
            found.append((False, line.strip()))
    return found
