"""Lessons read from TOML, each checked as a whole.

A file has the keys of `LESSON_RULES`, a table [[choices]] for each choice (`CHOICE_RULES`) and a
table [[lines]] for each line, whose `charts` are notation without a header, one for each choice:

    [[choices]]
    name = "5/7"
    [[choices]]
    name = "5"
    [[lines]]
    charts = ["1 5/7 6- 4", "1 5 6- 4"]
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from trainer.chart import Chart, Feel, Header, Key, parse, say_chord
from trainer.errors import FileError, NotationError, SettingsError, SettingsErrorGroup
from trainer.exercise.course import find_course
from trainer.exercise.lesson_rules import (
    CHOICE_RULES,
    LEAST_AND_MOST,
    LESSON_RULES,
    LINE_RULES,
    OPTIONAL,
    key_problems,
    parse_meter,
    read_chord,
)
from trainer.exercise.lessons import GROUPS, Choice, Lesson, Line
from trainer.exercise.recipe_text import load_table, show_value
from trainer.exercise.rules import Rule

__all__ = ["load_lesson", "load_lessons"]

FOLDER = "lessons"


def load_lessons(folder: Path | None = None) -> tuple[Lesson, ...]:
    """All lessons, by group and their order in it.

    The trainer's own lessons, which are meant when no folder is named, are read once in a process.
    Raises FileError when there are none, and SettingsErrorGroup naming everything wrong in all of
    their files.
    """
    if folder is None:
        return _own_lessons(find_course() / FOLDER)
    return _read_lessons(folder / FOLDER)


def _read_lessons(place: Path) -> tuple[Lesson, ...]:
    """The lessons of a folder, as its files are now."""
    files = sorted(place.glob("*.toml"))
    if not files:
        raise FileError(f"{place}: found no lesson, expected files such as hold.toml")
    lessons: list[Lesson] = []
    problems: list[SettingsError] = []
    for path in files:
        try:
            lessons.append(load_lesson(path))
        except SettingsErrorGroup as error:
            problems += error.errors
        except SettingsError as error:
            problems.append(error)
    if problems:
        raise SettingsErrorGroup(tuple(problems))
    return tuple(sorted(lessons, key=lambda each: (GROUPS.index(each.group), each.order, each.id)))


_own_lessons = lru_cache(maxsize=1)(_read_lessons)


def load_lesson(path: Path) -> Lesson:
    """One lesson from its file.

    Raises FileError, SettingsError, or SettingsErrorGroup with everything that is wrong in it.
    """
    data = load_table(path)
    tables = {name: data.pop(name, None) for name in LEAST_AND_MOST}
    about = OPTIONAL | data
    problems = list(key_problems(about, LESSON_RULES, tuple(LESSON_RULES), f"{path.name}: "))
    problems += _tables_problems(tables, "choices", CHOICE_RULES, ("name",), path.name)
    problems += _tables_problems(tables, "lines", LINE_RULES, ("charts",), path.name)
    _raise_if_any(problems)
    choices = tuple(map(_choice, tables["choices"]))
    _raise_if_any(list(_choice_problems(choices, path.name)))
    return _lesson(path, about, choices, tables["lines"])


def _lesson(
    path: Path, about: Mapping[str, Any], choices: tuple[Choice, ...], lines: Any
) -> Lesson:
    """The lesson of checked values. Raises SettingsErrorGroup for charts that cannot be read."""
    made: list[Line] = []
    problems: list[SettingsError] = []
    for number, line in enumerate(lines, 1):
        found = _line(line["charts"], choices, f"{path.name}: lines[{number}]", problems)
        if found is not None:
            made.append(found)
    _raise_if_any(problems)
    low, high = about["tempo"]
    return Lesson(
        id=path.stem,
        title=about["title"],
        group=about["group"],
        order=about["order"],
        teaches=tuple(about["teaches"]),
        mixed_up=tuple((one, other) for one, other in about["mixed_up"]),
        advice=tuple(about["advice"]),
        about=_one_line(about["about"]),
        listen_for=_one_line(about["listen_for"]),
        question=_one_line(about["question"]),
        tempo=(float(low), float(high)),
        keys=tuple(map(Key.parse, about["keys"])),
        band=about["band"],
        choices=choices,
        lines=tuple(made),
    )


def _choice(table: Mapping[str, Any]) -> Choice:
    meter = parse_meter(table.get("meter", "4/4"))
    name = table["name"].strip()
    chord = read_chord(name)
    return Choice(
        name=name,
        spoken=name if chord is None else say_chord(chord),
        meter=meter,
        feel=Feel(table.get("feel", Feel.usual(meter))),
        minor=table.get("minor", False),
        up=table.get("up", 0),
        tempo_ratio=float(table.get("tempo_ratio", 1.0)),
    )


def _choice_problems(choices: tuple[Choice, ...], name: str) -> Iterator[SettingsError]:
    """What is wrong with the choices of a lesson taken together."""
    names = [choice.name for choice in choices]
    for number, choice in enumerate(choices, 1):
        where = f"{name}: choices[{number}]"
        if choice.name in names[: number - 1]:
            yield SettingsError(
                f"{where}.name", show_value(choice.name), "a different name for each"
            )
        if not choice.feel.fits(choice.meter):
            fitting = ", ".join(f'"{feel}"' for feel in Feel if feel.fits(choice.meter))
            found = f"{show_value(choice.feel.value)} in {choice.meter}"
            yield SettingsError(f"{where}.feel", found, f"one of {fitting}")


def _line(
    texts: list[str], choices: tuple[Choice, ...], where: str, problems: list[SettingsError]
) -> Line | None:
    """The charts of a line; what is wrong with them is added to `problems`."""
    if len(texts) != len(choices):
        expected = f"{len(choices)}, one for each choice"
        problems.append(SettingsError(f"{where}.charts", str(len(texts)), expected))
        return None
    charts: list[Chart] = []
    for number, (text, choice) in enumerate(zip(texts, choices, strict=True), 1):
        try:
            charts.append(_chart(text, choice, f"{where}.charts[{number}]"))
        except SettingsErrorGroup as error:
            problems += error.errors
    if len(charts) < len(choices):
        return None
    heard = {
        (chart, choice.minor, choice.up, choice.tempo_ratio)
        for chart, choice in zip(charts, choices, strict=True)
    }
    if len(heard) < len(charts):
        expected = "charts that differ, or choices that are played in different ways"
        problems.append(SettingsError(f"{where}.charts", "two that sound the same", expected))
        return None
    return Line(tuple(charts))


def _chart(text: str, choice: Choice, where: str) -> Chart:
    """The chart of a text without a header, on C. Raises SettingsErrorGroup."""
    header = Header(meter=choice.meter, feel=choice.feel, key=Key("C", minor=choice.minor))
    try:
        chart = parse(text, header)
    except NotationError as error:
        raise SettingsErrorGroup(
            tuple(
                SettingsError(
                    f"{where}, line {each.line}, column {each.column}", each.found, each.expected
                )
                for each in error.problems
            )
        ) from error
    told = Header(chart.title, chart.meter, chart.tempo, chart.feel, chart.key)
    if told != header:
        expected = "bars and sections alone; the choice says how they are played"
        raise SettingsErrorGroup((SettingsError(where, "a header", expected),))
    return chart


def _tables_problems(
    data: Mapping[str, Any],
    name: str,
    rules: Mapping[str, Rule],
    needed: tuple[str, ...],
    file: str,
) -> Iterator[SettingsError]:
    """What is wrong with a list of tables, and in each of them."""
    tables, where = data[name], f"{file}: {name}"
    low, high = LEAST_AND_MOST[name]
    expected = f"{low} to {high} tables [[{name}]]"
    if not isinstance(tables, list) or not all(isinstance(each, Mapping) for each in tables):
        found = "nothing" if tables is None else show_value(tables)
        yield SettingsError(where, found, expected)
        return
    if not low <= len(tables) <= high:
        yield SettingsError(where, str(len(tables)), expected)
    for number, table in enumerate(tables, 1):
        yield from key_problems(table, rules, needed, f"{where}[{number}].")


def _raise_if_any(problems: list[SettingsError]) -> None:
    if problems:
        raise SettingsErrorGroup(tuple(problems))


def _one_line(text: str) -> str:
    return " ".join(text.split())
