"""The rule for each key of a lesson's file: which values it may have, and how a message says so."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from trainer.chart import Chord, Feel, Meter, parse
from trainer.errors import ChartError, NotationError, SettingsError
from trainer.exercise.lessons import GROUPS, QUESTIONS
from trainer.exercise.recipe_text import show_value
from trainer.exercise.rules import RULES, SKILL_EXAMPLES, Rule
from trainer.exercise.skills import is_skill

__all__ = [
    "CHOICE_RULES",
    "LEAST_AND_MOST",
    "LESSON_RULES",
    "LINE_RULES",
    "OPTIONAL",
    "is_list",
    "key_problems",
    "parse_meter",
    "read_chord",
    "text_rule",
]

# How many tables of a kind a lesson has. One line is for listening, each question takes another.
LEAST_AND_MOST = {"choices": (2, 3), "lines": (QUESTIONS + 1, 20)}
# How much faster or slower one choice may be played than the question says.
TEMPO_RATIOS = (0.25, 4.0)


def text_rule(most: int) -> Rule:
    """The rule for a text that is not empty and has at most `most` characters."""
    return Rule(
        f"a text of at most {most} characters",
        lambda value: isinstance(value, str) and 0 < len(" ".join(value.split())) <= most,
    )


def read_chord(text: str) -> Chord | None:
    """The chord that a text is, perhaps over a bass; None if it is anything else."""
    try:
        bars = parse(text).bars() if "\n" not in text else ()
    except NotationError:
        return None
    chords = [event.chord for bar in bars for event in bar.events]
    return chords[0] if len(chords) == 1 and str(chords[0]) == text else None


def _is_chord(value: object) -> bool:
    return isinstance(value, str) and read_chord(value) is not None


def is_list(value: object, holds: Callable[[object], bool]) -> bool:
    """Whether a value is a list whose items all satisfy a test."""
    return isinstance(value, list) and all(map(holds, value))


def _is_pair(value: object) -> bool:
    return is_list(value, _is_chord) and len(set(value)) == len(value) == 2  # type: ignore[call-overload, arg-type]


def parse_meter(text: str) -> Meter:
    """Read "6/8". Raises ValueError, ChartError."""
    beats, _, unit = text.partition("/")
    return Meter(int(beats), int(unit))


def _is_meter(value: object) -> bool:
    try:
        return isinstance(value, str) and bool(parse_meter(value))
    except (ValueError, ChartError):
        return False


def _is_whole(value: object, low: int, high: int) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and low <= value <= high


LESSON_RULES: dict[str, Rule] = {
    "title": text_rule(60),
    "group": Rule(
        "one of " + ", ".join(f'"{group}"' for group in GROUPS), lambda value: value in GROUPS
    ),
    "order": Rule("a whole number from 1 to 99", lambda value: _is_whole(value, 1, 99)),
    "teaches": Rule(
        f"a list of skills, {SKILL_EXAMPLES}; [] teaches none",
        lambda value: is_list(value, lambda each: isinstance(each, str) and is_skill(each)),
    ),
    "mixed_up": Rule(
        'a list of pairs of chords such as [["4", "2-"]]; [] has none',
        lambda value: is_list(value, _is_pair),
    ),
    "advice": Rule(
        'a list of kinds of advice such as ["home"]; [] has none',
        lambda value: is_list(value, lambda each: isinstance(each, str) and bool(each)),
    ),
    "about": text_rule(500),
    "listen_for": text_rule(400),
    "question": text_rule(100),
    "tempo": RULES["tempo"],
    "keys": Rule(
        'a list of at least two different keys such as "D", "Bb" or "F#"',
        lambda value: RULES["keys"].holds(value) and len(value) >= 2,  # type: ignore[arg-type]
    ),
    "band": RULES["band"],
}
CHOICE_RULES: dict[str, Rule] = {
    "name": text_rule(30),
    "meter": Rule('a meter such as "4/4" or "6/8"', _is_meter),
    "feel": Rule(
        "one of " + ", ".join(f'"{feel}"' for feel in Feel),
        lambda value: isinstance(value, str) and value in list(Feel),
    ),
    "minor": Rule("true or false", lambda value: isinstance(value, bool)),
    "up": Rule(
        "a whole number of semitones from -11 to 11", lambda value: _is_whole(value, -11, 11)
    ),
    "tempo_ratio": Rule(
        f"a number from {TEMPO_RATIOS[0]:g} to {TEMPO_RATIOS[1]:g}",
        lambda value: (
            isinstance(value, int | float)
            and not isinstance(value, bool)
            and TEMPO_RATIOS[0] <= value <= TEMPO_RATIOS[1]
        ),
    ),
}
LINE_RULES: dict[str, Rule] = {
    "charts": Rule(
        "a list of charts in notation without a header, one for each choice",
        lambda value: is_list(value, lambda each: isinstance(each, str) and bool(each.strip())),
    )
}
# What a key has that is left out. Of a choice, the name alone is needed.
OPTIONAL = {
    "mixed_up": [],
    "advice": [],
    "question": "Which did you hear?",
    "band": "small",
}


def key_problems(
    table: Mapping[str, Any], rules: Mapping[str, Rule], needed: tuple[str, ...], where: str
) -> Iterator[SettingsError]:
    """What is wrong in a table: unknown keys, wrong values, and keys that are needed and lack."""
    for key in table:
        if key not in rules:
            yield SettingsError(where + key, "an unknown key", f"one of {', '.join(rules)}")
    for key, rule in rules.items():
        if key in table and not rule.holds(table[key]):
            yield SettingsError(where + key, show_value(table[key]), rule.allowed)
        elif key not in table and key in needed:
            yield SettingsError(where + key, "nothing", rule.allowed)
