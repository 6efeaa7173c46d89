"""Start: go on where you were, or choose a level, a recipe, a seed, a song."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, UploadFile
from fastapi.responses import RedirectResponse, Response

from trainer.drill import rating_state
from trainer.errors import FileError, SettingsError
from trainer.exercise import (
    MOST_RECIPE_BYTES,
    Exercise,
    make_exercise,
    named_recipe,
    parse_seed,
    recipe_from_text,
)
from trainer.practice import next_level
from trainer.web.context import Context, LearnerContext, new_seed
from trainer.web.today import set_so_far
from trainer.web.views.start import LevelRow, level_rows

__all__ = ["router"]

router = APIRouter()
SEE_OTHER = 303


@router.get("/")
def start(context: Context) -> Response:
    """The start page."""
    attempts = context.store.attempts
    rows = level_rows(context.course, attempts.best_by_level(context.learner))
    latest = context.drills.latest()
    return context.page(
        "start.html",
        {
            "levels": rows,
            "next": _next(context, rows),
            "left": latest.exercise if latest is not None else None,
            "songs": context.songs,
            "recipes": context.recipes,
            "attempts": attempts.count(context.learner),
            "today": set_so_far(context),
        },
    )


@router.post("/begin")
def begin(
    context: Context,
    level: Annotated[int | None, Form()] = None,
    song: Annotated[str, Form()] = "",
    recipe: Annotated[str, Form()] = "",
    seed: Annotated[str, Form()] = "",
) -> Response:
    """Begin an exercise: a song, or made of a named recipe or a level, perhaps with a seed."""
    if song:
        return _begin(context, _song(context, song))
    if recipe:
        return _begin(context, make_exercise(named_recipe(recipe).recipe, _seed(seed)))
    return _begin(context, _of_level(context, level, _seed(seed)))


@router.post("/begin/recipe")
def begin_recipe(
    context: Context, recipe: UploadFile, seed: Annotated[str, Form()] = ""
) -> Response:
    """Make an exercise of a recipe file."""
    name = recipe.filename or "recipe"
    data = recipe.file.read(MOST_RECIPE_BYTES + 1)
    if not data:
        raise FileError("recipe: found no file, expected one such as those of the course (.toml)")
    return _begin(context, make_exercise(recipe_from_text(data, name), _seed(seed)))


def _begin(context: LearnerContext, exercise: Exercise) -> Response:
    drill = context.drills.begin(exercise)
    return RedirectResponse(f"/write/{drill.record.key}", SEE_OTHER)


def _seed(text: str) -> int:
    """The seed written in a form, a new one where none is. Raises SettingsError."""
    return parse_seed(text) if text.strip() else new_seed()


def _of_level(context: LearnerContext, number: int | None, seed: int) -> Exercise:
    level = context.level(number)
    if level is None:
        raise SettingsError("level", str(number), f"a level from 1 to {len(context.course)}")
    return make_exercise(level.recipe, seed, level)


def _song(context: LearnerContext, name: str) -> Exercise:
    for song in context.songs:
        if song.recipe.get("song") == name:
            return song
    titles = ", ".join(song.chart.title for song in context.songs)
    raise SettingsError("song", repr(name[:80]), f"one of: {titles}")


def _next(context: LearnerContext, rows: tuple[LevelRow, ...]) -> LevelRow:
    """The next level, which what placement and the sets found agrees with."""
    level = next_level(
        context.course,
        rating_state(context.store, context.learner),
        context.clock(),
        passed={row.number for row in rows if row.passed},
        tried={row.number for row in rows if row.best is not None},
    )
    return next(row for row in rows if row.number == level.number)
