"""Recipes read from TOML and checked as a whole.

A text is refused when it is too long, nested too deeply or has too many keys, before the TOML
reader sees it: a key of thousands of parts, or brackets within brackets, would otherwise take the
reader minutes and gigabytes. Then every key and value is checked by `trainer.exercise.rules`, and
all values together by `trainer.exercise.contradictions`.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from trainer.errors import FileError, SettingsError, SettingsErrorGroup
from trainer.exercise.contradictions import contradictions
from trainer.exercise.recipe import Help, Recipe, flatten
from trainer.exercise.rules import RULES, TABLES
from trainer.generate import STYLES, Features

__all__ = [
    "ABOUT_TABLE",
    "LEVEL_TABLE",
    "MOST_RECIPE_BYTES",
    "load_recipe",
    "load_table",
    "recipe_from_dict",
    "recipe_from_text",
    "show_value",
    "table_from_text",
]

# Tables that a file may have besides its recipe: those of a level and of a named recipe.
LEVEL_TABLE = "level"
ABOUT_TABLE = "about"
MOST_RECIPE_BYTES = 8_000
MOST_KEYS = 200
MOST_DEPTH = 4
MOST_SHOWN = 200
# Strings and comments of TOML, in which brackets, dots and equals signs mean nothing. One that is
# not ended is taken as far as it goes, so that each character is looked at once.
_STRING_OR_COMMENT = re.compile(
    r'"""(?:\\.|[^\\])*?(?:"""|\Z)|\'\'\'.*?(?:\'\'\'|\Z)'
    r'|"(?:\\.|[^"\\\n])*+"?|\'[^\'\n]*+\'?|#[^\n]*+',
    re.DOTALL,
)
# A key with dots: its parts are names or, by now, empty strings.
_DOTTED_KEY = re.compile(r'(?<![\w-])(?:[\w-]++|"")(?:\s*+\.\s*+(?:[\w-]++|""))++')


def load_recipe(path: Path) -> Recipe:
    """Read a recipe file; a level of the course is one, too.

    Raises FileError when it cannot be read, SettingsError when it is not TOML, and
    SettingsErrorGroup with everything that is wrong in it.
    """
    return _recipe_of(load_table(path), path.name)


def recipe_from_text(text: str | bytes, name: str) -> Recipe:
    """The recipe that a text in TOML (bytes: in UTF-8) describes; `name` is its name in messages.

    Raises FileError when it is longer than `MOST_RECIPE_BYTES` or no UTF-8, SettingsError when it
    is no TOML or nested too deeply, SettingsErrorGroup with everything else that is wrong in it.
    """
    return _recipe_of(table_from_text(text, name), name)


def load_table(path: Path) -> dict[str, Any]:
    """The values of a TOML file. Raises FileError, and SettingsError as `table_from_text` does."""
    try:
        with path.open("rb") as file:
            data = file.read(MOST_RECIPE_BYTES + 1)
    except OSError as error:
        raise FileError(f"{path}: cannot be read: {error.strerror or error}") from error
    return table_from_text(data, path.name)


def table_from_text(text: str | bytes, name: str) -> dict[str, Any]:
    """The values of a text in TOML, nested at most `MOST_DEPTH` deep.

    Raises FileError when it is too long or not UTF-8, SettingsError for anything else, with the
    line and column where the TOML reader names them.
    """
    data = text.encode(errors="surrogatepass") if isinstance(text, str) else text
    if len(data) > MOST_RECIPE_BYTES:
        raise FileError(f"{name}: found more than {MOST_RECIPE_BYTES:,} bytes, expected a recipe")
    try:
        plain = data.decode()
    except UnicodeDecodeError as error:
        raise FileError(f"{name}: byte {error.start} is not UTF-8, expected a text file") from error
    _check_extent(plain, name)
    try:
        return tomllib.loads(plain)
    except tomllib.TOMLDecodeError as error:
        found = f"a text that is not TOML ({error})"
        raise SettingsError(name, found, 'lines such as size = "song"') from error
    except ValueError as error:
        # The reader leaves it to int() to refuse a number of more than 4,300 digits.
        found = "a number of more than 4,300 digits"
        raise SettingsError(name, found, "a shorter number") from error


def _check_extent(text: str, name: str) -> None:
    """Raise SettingsError where a text nests too deeply or has too many keys."""
    bare = _STRING_OR_COMMENT.sub('""', text)
    depth = deepest = 0
    for bracket in re.findall(r"[][{}]", bare):
        depth += 1 if bracket in "[{" else -1
        deepest = max(deepest, depth)
    parts = max((key.count(".") + 1 for key in _DOTTED_KEY.findall(bare)), default=0)
    if max(deepest, parts) > MOST_DEPTH:
        expected = f"lists, tables and keys with dots nested at most {MOST_DEPTH} deep"
        raise SettingsError(name, f"{max(deepest, parts):,} levels of nesting", expected)
    keys = bare.count("=")
    if keys > MOST_KEYS:
        raise SettingsError(name, f"{keys:,} keys", f"at most {MOST_KEYS}")


def _recipe_of(table: dict[str, Any], name: str) -> Recipe:
    """The recipe of a file's values, without what the file says about itself."""
    about = (LEVEL_TABLE, ABOUT_TABLE)
    return recipe_from_dict({key: table[key] for key in table if key not in about}, name)


def recipe_from_dict(data: Mapping[str, Any], where: str) -> Recipe:
    """The recipe of a table of settings; what is left out keeps its default.

    `where` names the source in messages. Raises SettingsErrorGroup with every unknown key, wrong
    value and contradiction.
    """
    problems = list(_problems(flatten(data), where))
    if problems:
        # Contradictions between the right values are reported too, so that one round is enough.
        wrong = {problem.where.removeprefix(f"{where}: ") for problem in problems}
        right = {
            key: value for key, value in flatten(data).items() if key in RULES and key not in wrong
        }
        problems += contradictions(_build(right), where, ignore=frozenset(wrong))
        raise SettingsErrorGroup(tuple(problems))
    recipe = _build(flatten(data))
    problems = contradictions(recipe, where)
    if problems:
        raise SettingsErrorGroup(tuple(problems))
    return recipe


def _problems(flat: Mapping[str, Any], where: str) -> Iterator[SettingsError]:
    """Each unknown key and each value that its key may not hold."""
    for key, value in flat.items():
        place = f"{where}: {_shorten(key)}"
        if key in TABLES:
            yield SettingsError(place, show_value(value), f"a table [{key}]")
        elif key not in RULES:
            near = get_close_matches(key, RULES, 1)
            hint = f"{near[0]}, or another " if near else "one "
            yield SettingsError(place, "an unknown key", f"{hint}of {', '.join(RULES)}")
        elif not RULES[key].holds(value):
            yield SettingsError(place, show_value(value), RULES[key].allowed)


def show_value(value: object) -> str:
    """A value as a file would write it, for a message; shortened where it is long."""
    try:
        text = json.dumps(value, ensure_ascii=False, default=str)
    except (ValueError, RecursionError):
        # Python turns no number of more than 4,300 digits into text.
        return "a value that is too large to show"
    return _shorten(text)


def _shorten(text: str) -> str:
    return text if len(text) <= MOST_SHOWN else text[:MOST_SHOWN] + " …"


def _build(flat: Mapping[str, Any]) -> Recipe:
    """The recipe of checked values."""
    plain: dict[str, Any] = {}
    tables: dict[str, dict[str, Any]] = {name: {} for name in TABLES}
    for key, value in flat.items():
        table, _, inner = key.rpartition(".")
        home = tables[table] if table else plain
        home[inner] = tuple(value) if isinstance(value, list) else _as_float(key, value)
    weights = plain.get("styles")
    if isinstance(weights, Mapping):
        # Files and stores may give the weights in any order; the song must not depend on it.
        plain["styles"] = tuple(name for name in STYLES if name in weights)
        plain["style_weights"] = tuple(float(weights[name]) for name in plain["styles"])
    if "tempo" in plain:
        plain["tempo"] = tuple(float(item) for item in plain["tempo"])
    return Recipe(features=Features(**tables["features"]), help=Help(**tables["help"]), **plain)


def _as_float(key: str, value: Any) -> Any:
    """A rate written as 1 is 1.0, so that both give the same recipe."""
    rate = key in ("extensions", "minor", "variety", "help.bass_lift_db") or key.startswith(
        "features."
    )
    return float(value) if rate else value
