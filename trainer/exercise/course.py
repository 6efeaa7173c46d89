"""The course: numbered levels in order, and the hand-written songs, from the exercises folder."""

from __future__ import annotations

import re
import sysconfig
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trainer.errors import FileError, MissingError, SettingsError, SettingsErrorGroup
from trainer.exercise.exercise import Exercise, song_exercise
from trainer.exercise.recipe import LEVEL_TABLE, Recipe, read_toml, recipe_from_dict
from trainer.exercise.rules import SKILL_EXAMPLES, Rule
from trainer.exercise.skills import is_skill

__all__ = ["LEVEL_RULES", "Level", "find_course", "load_course", "load_level", "load_songs"]

CHECKOUT = Path(__file__).resolve().parents[2] / "exercises"
INSTALLED = Path(sysconfig.get_path("data")) / "share" / "chart-trainer" / "exercises"
LEVEL_NAME = re.compile(r"level-(\d{2,3})\.toml")


@dataclass(frozen=True, slots=True)
class Level:
    """One step of the course.

    `introduces` tells the learner what is new; `skills` are the new ones by
    `trainer.exercise.skills`; `pass_mark` is the score (above 0, at most 1) that opens the next
    level.
    """

    number: int
    title: str
    introduces: str
    skills: tuple[str, ...]
    pass_mark: float
    recipe: Recipe
    path: Path


def _is_text(most: int) -> Callable[[object], bool]:
    return lambda value: isinstance(value, str) and 0 < len(value.strip()) <= most


LEVEL_RULES: dict[str, Rule] = {
    "title": Rule("a text of at most 60 characters", _is_text(60)),
    "introduces": Rule("a text of at most 400 characters", _is_text(400)),
    "skills": Rule(
        f"a list of skills, {SKILL_EXAMPLES}",
        lambda value: (
            isinstance(value, list)
            and bool(value)
            and all(isinstance(each, str) and is_skill(each) for each in value)
        ),
    ),
    "pass_mark": Rule(
        "a number above 0, at most 1",
        lambda value: (
            isinstance(value, int | float) and not isinstance(value, bool) and 0 < value <= 1
        ),
    ),
}


def find_course() -> Path:
    """The exercises folder: beside the code, or where the package was installed.

    Raises MissingError saying where it was looked for.
    """
    places = (CHECKOUT, INSTALLED)
    for place in places:
        if any(place.glob("level-*.toml")):
            return place
    raise MissingError("no course: looked for exercises in " + " and ".join(map(str, places)))


def load_course(folder: Path | None = None) -> tuple[Level, ...]:
    """All levels of the course in order, numbered from 1 without gaps.

    Raises FileError when the folder holds none, and SettingsErrorGroup naming everything wrong in
    all of its files.
    """
    place = find_course() if folder is None else folder
    files = sorted(place.glob("level-*.toml"))
    if not files:
        raise FileError(f"{place}: found no level, expected files such as level-01.toml")
    levels: list[Level] = []
    problems: list[SettingsError] = []
    for path in files:
        try:
            levels.append(load_level(path))
        except SettingsErrorGroup as error:
            problems += error.errors
        except SettingsError as error:
            problems.append(error)
    levels.sort(key=lambda level: level.number)
    if not problems:
        problems += _gaps(levels)
    if problems:
        raise SettingsErrorGroup(tuple(problems))
    return tuple(levels)


def load_level(path: Path) -> Level:
    """One level from its file: a recipe with a [level] table.

    Raises FileError, SettingsError, or SettingsErrorGroup naming all that is wrong in it.
    """
    named = LEVEL_NAME.fullmatch(path.name)
    if named is None:
        raise SettingsError(path.name, "this file name", "level-NN.toml, NN the level's number")
    data = read_toml(path)
    about = data.pop(LEVEL_TABLE, {})
    problems = list(_level_problems(about, path.name))
    try:
        recipe = recipe_from_dict(data, path.name)
    except SettingsErrorGroup as error:
        problems += error.errors
    if problems:
        raise SettingsErrorGroup(tuple(problems))
    return Level(
        number=int(named[1]),
        title=about["title"],
        introduces=" ".join(about["introduces"].split()),
        skills=tuple(about["skills"]),
        pass_mark=float(about["pass_mark"]),
        recipe=recipe,
        path=path,
    )


def load_songs(folder: Path | None = None) -> tuple[Exercise, ...]:
    """The hand-written songs of the course, by file name."""
    place = (find_course() if folder is None else folder) / "songs"
    files = sorted(place.glob("*.txt"))
    if not files:
        raise FileError(f"{place}: found no song, expected charts in files ending in .txt")
    return tuple(song_exercise(path) for path in files)


def _level_problems(about: Any, where: str) -> Iterator[SettingsError]:
    """What is wrong in the [level] table."""
    if not isinstance(about, Mapping):
        yield SettingsError(f"{where}: {LEVEL_TABLE}", repr(about), f"a table [{LEVEL_TABLE}]")
        return
    for key in about:
        if key not in LEVEL_RULES:
            yield SettingsError(
                f"{where}: {LEVEL_TABLE}.{key}",
                "an unknown key",
                f"one of {', '.join(LEVEL_RULES)}",
            )
    for key, rule in LEVEL_RULES.items():
        if key not in about or not rule.holds(about[key]):
            found = repr(about[key]) if key in about else "nothing"
            yield SettingsError(f"{where}: {LEVEL_TABLE}.{key}", found, rule.allowed)


def _gaps(levels: list[Level]) -> Iterator[SettingsError]:
    """Where the numbers do not follow each other from 1."""
    for expected, level in enumerate(levels, 1):
        if level.number != expected:
            yield SettingsError(level.path.name, f"level {level.number}", f"level {expected} here")
            return
