"""The signs of a chart, each with what it stands for and a few bars in which it is heard.

They are read from `signs.toml` in the folder of exercises.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from trainer.chart import Chart, Header, parse
from trainer.errors import NotationError, SettingsError, SettingsErrorGroup
from trainer.exercise.course import find_course
from trainer.exercise.lesson_rules import is_list, key_problems, text_rule
from trainer.exercise.recipe_text import load_table, show_value
from trainer.exercise.rules import Rule

__all__ = ["SignExample", "load_signs"]

FILE = "signs.toml"
HEADER = Header(tempo=96.0)
SIGN_RULES: dict[str, Rule] = {
    "id": text_rule(40),
    "group": text_rule(40),
    "write": Rule(
        "a list of texts, at least one",
        lambda value: (
            bool(value) and is_list(value, lambda each: isinstance(each, str) and bool(each))
        ),
    ),
    "means": text_rule(120),
    "chart": text_rule(200),
    "lesson": text_rule(80),
}
NEEDED = tuple(key for key in SIGN_RULES if key != "lesson")


@dataclass(frozen=True, slots=True)
class SignExample:
    """A sign: how it is typed, what it `means` and a chart with it.

    `lesson` is the id of the lesson about it, "" for none.
    """

    id: str
    group: str
    write: tuple[str, ...]
    means: str
    chart: Chart
    lesson: str = ""


def load_signs(folder: Path | None = None) -> tuple[SignExample, ...]:
    """Every sign in the order of the file, those of a group together.

    Raises FileError, SettingsError, or SettingsErrorGroup with everything that is wrong.
    """
    path = (find_course() if folder is None else folder) / FILE
    data = load_table(path)
    tables = data.pop("signs", None)
    if not isinstance(tables, list) or not all(isinstance(each, Mapping) for each in tables):
        found = "nothing" if tables is None else show_value(tables)
        raise SettingsError(f"{FILE}: signs", found, "tables [[signs]]")
    problems = [
        SettingsError(f"{FILE}: {key}", "an unknown key", "a list of tables [[signs]]")
        for key in data
    ]
    signs: list[SignExample] = []
    for number, table in enumerate(tables, 1):
        where = f"{FILE}: signs[{number}]"
        found_here = list(key_problems(table, SIGN_RULES, NEEDED, f"{where}."))
        problems += found_here
        if not found_here:
            try:
                signs.append(_sign(table))
            except NotationError as error:
                problems += (
                    SettingsError(f"{where}.chart, {str(each).partition(':')[0]}", each.found,
                                  each.expected)
                    for each in error.problems
                )  # fmt: skip
    ids = [sign.id for sign in signs]
    problems += (
        SettingsError(f"{FILE}: signs", f"{each} twice", "a different id for each sign")
        for each in sorted({each for each in ids if ids.count(each) > 1})
    )
    if problems:
        raise SettingsErrorGroup(tuple(problems))
    return tuple(signs)


def _sign(table: Mapping[str, Any]) -> SignExample:
    """The sign of a checked table. Raises NotationError."""
    values = dict(table) | {
        "write": tuple(table["write"]),
        "chart": parse(table["chart"], HEADER),
    }
    return SignExample(**values)
