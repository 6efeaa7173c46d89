"""The exercises folder: the levels of the course, the named recipes and the hand-written songs."""

from __future__ import annotations

import re
import sysconfig
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from trainer.errors import FileError, MissingError, SettingsError, SettingsErrorGroup
from trainer.exercise.exercise import Exercise, song_exercise
from trainer.exercise.recipe import Level, NamedRecipe, Recipe
from trainer.exercise.recipe_text import (
    ABOUT_TABLE,
    LEVEL_TABLE,
    load_table,
    recipe_from_dict,
    show_value,
)
from trainer.exercise.rules import SKILL_EXAMPLES, Rule
from trainer.exercise.skills import is_skill

__all__ = [
    "ABOUT_RULES",
    "LEVEL_RULES",
    "find_course",
    "load_course",
    "load_level",
    "load_recipes",
    "load_songs",
    "named_recipe",
]

CHECKOUT = Path(__file__).resolve().parents[2] / "exercises"
INSTALLED = Path(sysconfig.get_path("data")) / "share" / "chart-trainer" / "exercises"
LEVEL_NAME = re.compile(r"level-(\d{2,3})\.toml")
LEVEL_ID = re.compile(r"[a-z][a-z0-9-]{0,39}")


def _is_text(most: int) -> Callable[[object], bool]:
    return lambda value: isinstance(value, str) and 0 < len(value.strip()) <= most


LEVEL_RULES: dict[str, Rule] = {
    "id": Rule(
        "a name of at most 40 small letters, digits and hyphens, no other level's",
        lambda value: isinstance(value, str) and LEVEL_ID.fullmatch(value) is not None,
    ),
    "title": Rule("a text of at most 60 characters", _is_text(60)),
    "part": Rule("a text of at most 60 characters", _is_text(60)),
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
# A key that only the first level of a part of the course has.
OPTIONAL = ("part",)
ABOUT_RULES: dict[str, Rule] = {
    "title": LEVEL_RULES["title"],
    "description": LEVEL_RULES["introduces"],
}


def find_course() -> Path:
    """The exercises folder: beside the code, or where the package was installed.

    Raises MissingError saying where it was looked for.
    """
    places = (CHECKOUT, INSTALLED)
    for place in places:
        if any(place.glob("level-*.toml")):
            return place
    raise MissingError("no course found; looked for it in " + " and ".join(map(str, places)))


def load_course(folder: Path | None = None) -> tuple[Level, ...]:
    """All levels of the course in order, numbered from 1 without gaps.

    The trainer's own course, which is meant when no folder is named, is read once in a process.
    Raises FileError when the folder holds none, and SettingsErrorGroup naming everything wrong in
    all of its files.
    """
    return _own_course(find_course()) if folder is None else _read_course(folder)


def _read_course(place: Path) -> tuple[Level, ...]:
    """The course of a folder, as its files are now."""
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
        problems += [*_gaps(levels), *_same_ids(levels)]
    if problems:
        raise SettingsErrorGroup(tuple(problems))
    return _with_introduced(levels)


_own_course = lru_cache(maxsize=1)(_read_course)


def _with_introduced(levels: list[Level]) -> tuple[Level, ...]:
    """The levels, each introducing those of its skills that no level before it has."""
    known: set[str] = set()
    found = []
    for level in levels:
        new = tuple(skill for skill in level.skills if skill not in known)
        found.append(replace(level, introduced=new))
        known.update(new)
    return tuple(found)


def load_level(path: Path) -> Level:
    """One level from its file: a recipe with a [level] table. By itself it introduces all of its
    skills.

    Raises FileError, SettingsError, or SettingsErrorGroup with everything that is wrong in it.
    """
    named = LEVEL_NAME.fullmatch(path.name)
    if named is None:
        raise SettingsError(path.name, "this file name", "level-NN.toml with the level's number")
    about, recipe = _described(path, LEVEL_TABLE, LEVEL_RULES)
    return Level(
        number=int(named[1]),
        id=about["id"],
        title=about["title"],
        introduces=_one_line(about["introduces"]),
        skills=tuple(about["skills"]),
        pass_mark=float(about["pass_mark"]),
        recipe=recipe,
        path=path,
        introduced=tuple(about["skills"]),
        part=about.get("part", ""),
    )


def load_recipes(folder: Path | None = None) -> tuple[NamedRecipe, ...]:
    """The named recipes in the order of their names, which are those of their files.

    Raises FileError, SettingsError, or SettingsErrorGroup, as `load_level` does.
    """
    place = (find_course() if folder is None else folder) / "recipes"
    found = []
    for path in sorted(place.glob("*.toml")):
        about, recipe = _described(path, ABOUT_TABLE, ABOUT_RULES)
        description = _one_line(about["description"])
        found.append(NamedRecipe(path.stem, about["title"], description, recipe))
    return tuple(found)


def named_recipe(name: str, where: str = "recipe") -> NamedRecipe:
    """The recipe of a name. Raises SettingsError, in which `where` names the option or field,
    listing the names there are."""
    recipes = load_recipes()
    for each in recipes:
        if each.name == name:
            return each
    names = ", ".join(each.name for each in recipes)
    expected = f"one of the recipes {names}, or a file such as my-recipe.toml"
    raise SettingsError(where, show_value(name), expected)


def _described(
    path: Path, table: str, rules: Mapping[str, Rule]
) -> tuple[Mapping[str, Any], Recipe]:
    """The checked table in which a file describes itself, and the recipe in the rest."""
    data = load_table(path)
    about = data.pop(table, {})
    problems = list(_table_problems(about, f"{path.name}: {table}", rules))
    try:
        recipe = recipe_from_dict(data, path.name)
    except SettingsErrorGroup as error:
        problems += error.errors
    if problems:
        raise SettingsErrorGroup(tuple(problems))
    return about, recipe


def _one_line(text: str) -> str:
    return " ".join(text.split())


def load_songs(folder: Path | None = None) -> tuple[Exercise, ...]:
    """The hand-written songs of the course, by file name."""
    place = (find_course() if folder is None else folder) / "songs"
    files = sorted(place.glob("*.txt"))
    if not files:
        raise FileError(f"{place}: found no song, expected charts in files ending in .txt")
    return tuple(song_exercise(path) for path in files)


def _table_problems(about: Any, where: str, rules: Mapping[str, Rule]) -> Iterator[SettingsError]:
    """What is wrong in the table in which a file says what it is."""
    if not isinstance(about, Mapping):
        name = where.rpartition(" ")[2]
        yield SettingsError(where, show_value(about), f"a table [{name}]")
        return
    for key in about:
        if key not in rules:
            yield SettingsError(f"{where}.{key}", "an unknown key", f"one of {', '.join(rules)}")
    for key, rule in rules.items():
        if key in OPTIONAL and key not in about:
            continue
        if key not in about or not rule.holds(about[key]):
            found = show_value(about[key]) if key in about else "nothing"
            yield SettingsError(f"{where}.{key}", found, rule.allowed)


def _same_ids(levels: list[Level]) -> Iterator[SettingsError]:
    """Levels with the id of a level before them."""
    known: dict[str, str] = {}
    for level in levels:
        if level.id in known:
            expected = f"another id than that of {known[level.id]}"
            yield SettingsError(f"{level.path.name}: level.id", show_value(level.id), expected)
        known.setdefault(level.id, level.path.name)


def _gaps(levels: list[Level]) -> Iterator[SettingsError]:
    """Where the numbers do not follow each other from 1."""
    for expected, level in enumerate(levels, 1):
        if level.number != expected:
            yield SettingsError(level.path.name, f"level {level.number}", f"level {expected} here")
            return
