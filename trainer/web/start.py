"""Start: go on where you were, or choose a level, a recipe, a seed, a song."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form, UploadFile
from fastapi.responses import RedirectResponse, Response

from trainer.errors import FileError, SettingsError
from trainer.exercise import (
    MOST_RECIPE_BYTES,
    Exercise,
    exercise_from_json,
    make_exercise,
    parse_seed,
    recipe_from_text,
)
from trainer.practice import next_level
from trainer.web.site import Here, Site, new_seed
from trainer.web.today import set_so_far
from trainer.web.views.start import LevelRow, level_rows

__all__ = ["router"]

router = APIRouter()
SEE_OTHER = 303


@router.get("/")
def start(site: Here) -> Response:
    """The start page; whoever is new reads the hearing caution first."""
    learner = site.known
    if learner is None:
        return RedirectResponse("/hearing", SEE_OTHER)
    rows = level_rows(site.course, site.store.attempts.best_by_level(learner))
    return site.page(
        "start.html",
        {
            "levels": rows,
            "next": _next(site, rows),
            "left": _left_last(site),
            "songs": site.songs,
            "attempts": site.store.attempts.count(learner),
            "today": set_so_far(site),
        },
    )


@router.post("/begin")
def begin(
    site: Here,
    level: Annotated[int | None, Form()] = None,
    song: Annotated[str, Form()] = "",
    seed: Annotated[str, Form()] = "",
) -> Response:
    """Make an exercise of a level (and a seed), or take a song, and sit down to it."""
    exercise = _song(site, song) if song else _of_level(site, level, _seed(seed))
    return _sit_down(site, exercise)


@router.post("/begin/recipe")
def begin_recipe(site: Here, recipe: UploadFile, seed: Annotated[str, Form()] = "") -> Response:
    """Make an exercise of a recipe file."""
    name = recipe.filename or "recipe"
    data = recipe.file.read(MOST_RECIPE_BYTES + 1)
    if not data:
        raise FileError("recipe: found no file, expected one such as those of the course (.toml)")
    return _sit_down(site, make_exercise(recipe_from_text(data, name), _seed(seed)))


def _sit_down(site: Site, exercise: Exercise) -> Response:
    kept = site.keep(exercise)
    return RedirectResponse(f"/write/{kept.id}", SEE_OTHER)


def _seed(text: str) -> int:
    """The seed written in a form, a new one where none is. Raises SettingsError."""
    return parse_seed(text) if text.strip() else new_seed()


def _of_level(site: Site, number: int | None, seed: int) -> Exercise:
    level = site.level(number)
    if level is None:
        raise SettingsError("level", str(number), f"a level from 1 to {len(site.course)}")
    return make_exercise(level.recipe, seed, level)


def _song(site: Site, name: str) -> Exercise:
    for song in site.songs:
        if song.recipe.get("song") == name:
            return song
    titles = ", ".join(song.chart.title for song in site.songs)
    raise SettingsError("song", repr(name[:80]), f"one of: {titles}")


def _next(site: Site, rows: tuple[LevelRow, ...]) -> LevelRow:
    """The next level, which what placement and the sets found agrees with."""
    level = next_level(
        site.course,
        site.store.ratings.state(site.learner),
        site.now(),
        passed={row.number for row in rows if row.passed},
        tried={row.number for row in rows if row.best is not None},
    )
    return next(row for row in rows if row.number == level.number)


def _left_last(site: Site) -> Exercise | None:
    """The exercise last written on and not handed in."""
    latest = site.store.drafts.latest(site.learner)
    kept = site.store.exercises.get(latest[0]) if latest is not None else None
    return exercise_from_json(kept.data) if kept is not None else None
