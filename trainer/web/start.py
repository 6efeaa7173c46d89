"""The way in: the hearing caution first, then the start page, where an exercise is begun.

The learner carries on with an open exercise or chooses a level, a recipe, a seed or a song.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Form, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from trainer.band import level_check_chord
from trainer.drill import lesson_records, level_of, passed_levels, rating_state
from trainer.errors import FileError, SettingsError
from trainer.exercise import (
    MOST_RECIPE_BYTES,
    Exercise,
    Lesson,
    Level,
    make_exercise,
    named_recipe,
    new_seed,
    parse_seed,
    recipe_from_text,
)
from trainer.practice import CourseMap, LevelPlace, Standing, course_map
from trainer.sound import HEARING_CAUTION
from trainer.web.context import Context, LearnerContext, PublicContext, templates
from trainer.web.today import today_so_far

if TYPE_CHECKING:
    from trainer.store import LevelBest

__all__ = ["router"]

router = APIRouter()
SEE_OTHER = 303
# Levels kept as HTML, in all the ways in which learners stand with them; each takes about 1.5 kB.
MOST_LEVEL_ITEMS = 2048
EXERCISE_ID = re.compile(r"[0-9a-zA-Z-]{1,200}")


@dataclass(frozen=True, slots=True)
class LevelRow:
    """A level on the map and how it went; `best` None is not tried yet. `lessons` are those it
    opens with that are not done yet."""

    place: LevelPlace
    best: float | None
    attempts: int
    lessons: tuple[Lesson, ...]

    @property
    def level(self) -> Level:
        """The level itself."""
        return self.place.level


@dataclass(frozen=True, slots=True)
class PartRows:
    """A part of the course: its heading and its levels."""

    name: str
    rows: tuple[LevelRow, ...]

    @property
    def passed(self) -> int:
        """How many of its levels are passed."""
        return sum(row.place.standing is Standing.PASSED for row in self.rows)

    @property
    def skipped(self) -> int:
        """How many of its levels the course goes on without."""
        return sum(row.place.is_skipped for row in self.rows)


@router.get("/hearing")
def hearing(context: PublicContext, then: str = "") -> HTMLResponse:
    """The caution, whole, and the volume check."""
    lines = HEARING_CAUTION.strip().splitlines()
    return context.page(
        "hearing.html",
        {
            "caution": _paragraphs(lines),
            "sound": context.sound(level_check_chord()),
            "is_new": context.learner is None or context.learner.caution_at is None,
            "then": then if EXERCISE_ID.fullmatch(then) else "",
        },
    )


@router.post("/hearing")
def understood(context: PublicContext, then: Annotated[str, Form()] = "") -> Response:
    """Store that the caution was shown; the first learner of a store is added."""
    learners, now = context.store.learners, context.clock()
    learners.caution_shown(context.learner or learners.get_or_add(context.owner, now), now)
    place = f"/write/{then}" if EXERCISE_ID.fullmatch(then) else "/"
    return RedirectResponse(place, SEE_OTHER)


@router.get("/")
def start(context: Context) -> Response:
    """The start page."""
    store, learner = context.store, context.learner
    best = store.attempts.best_by_level(learner)
    found = _course_map(context, best)
    parts = _parts(_level_rows(context, found, best))
    rows = [row for part in parts for row in part.rows]
    latest = store.open_drills.latest(learner)
    unfinished = latest[0].exercise if latest is not None else None
    return context.page(
        "start.html",
        {
            "parts": parts,
            "next_level": next(row for row in rows if row.level is found.next),
            "why_skipped": found.why,
            "unfinished": unfinished,
            "unfinished_level": level_of(unfinished.level_id) if unfinished else None,
            "songs": context.songs,
            "recipes": context.recipes,
            "attempts": bool(best) or store.attempts.has_any(learner),
            "level_item": _level_item,
            "today": today_so_far(context),
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
        raise FileError("recipe: found no file, expected a recipe file that ends in .toml")
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


def _course_map(context: LearnerContext, best: Mapping[str, LevelBest]) -> CourseMap:
    """The map of the course, which agrees with what placement and the sets found."""
    return course_map(
        context.course,
        rating_state(context.store, context.learner),
        context.clock(),
        passed=passed_levels(best),
        tried=best,
    )


def _level_rows(
    context: LearnerContext, found: CourseMap, best: Mapping[str, LevelBest]
) -> Iterator[LevelRow]:
    """Every level with its best result."""
    records = lesson_records(context.store, context.learner)
    done = {lesson for lesson, record in records.items() if record.is_done}
    for place in found.places:
        level, tried = place.level, best.get(place.level.id)
        yield LevelRow(
            place,
            tried.score if tried is not None else None,
            tried.attempts if tried is not None else 0,
            tuple(each for each in context.opening_lessons[level.id] if each.id not in done),
        )


@lru_cache(maxsize=MOST_LEVEL_ITEMS)
def _level_item(row: LevelRow, is_next: bool) -> str:
    """A level on the map as HTML. Between two looks at the page, few levels change."""
    template = templates().get_template("_level.html")
    return template.render(row=row, is_next=is_next)


def _parts(rows: Iterable[LevelRow]) -> tuple[PartRows, ...]:
    """The levels under the headings of their parts."""
    parts: list[tuple[str, list[LevelRow]]] = []
    for row in rows:
        if row.level.part or not parts:
            parts.append((row.level.part, []))
        parts[-1][1].append(row)
    return tuple(PartRows(name, tuple(inside)) for name, inside in parts)


def _paragraphs(lines: list[str]) -> list[tuple[bool, str]]:
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
