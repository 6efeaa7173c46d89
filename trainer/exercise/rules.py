"""The rule for each key of a recipe: which values it may have, and how a message says so.

`RULES` has the keys in the order of `exercises/README.md`; those of the tables `features` and
`help` are written as in "features.splits".
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from functools import lru_cache

from trainer.chart import Key, parse
from trainer.chart.chords import EXTENSIONS
from trainer.errors import ChartError, NotationError
from trainer.exercise.cutting import RELATIVE_MAJOR, TWO_SECTIONS
from trainer.exercise.skills import PLAIN_SKILLS, is_skill
from trainer.generate import STYLES, Features

__all__ = [
    "ASKS",
    "BANDS",
    "RULES",
    "SIZES",
    "SKILL_EXAMPLES",
    "TABLES",
    "WITHIN_KINDS",
    "Rule",
]

SIZES = ("phrase", "section", TWO_SECTIONS, "song")
BANDS = ("work tape", "small", "full")
ASKS = ("roots", "chords", "everything")
LIGHTS = ("off", "beats", "bars")
# The kinds of skill that `within` limits.
WITHIN_KINDS = ("chord ", "extension ", "bass ")
MOST_LISTENS = 99
MOST_WEIGHT = 1000.0


@dataclass(frozen=True, slots=True)
class Rule:
    """The values that a key may have: in words, and as a test of a value from TOML or JSON."""

    allowed: str
    holds: Callable[[object], bool]


def _number(low: float, high: float) -> Rule:
    return Rule(
        f"a number from {low:g} to {high:g}",
        lambda value: _is_number(value) and low <= value <= high,  # type: ignore[operator]
    )


def _is_number(value: object) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    return isinstance(value, int) and not isinstance(value, bool)


def _whole(low: int, high: int, note: str = "") -> Rule:
    return Rule(
        f"a whole number from {low} to {high}{note}",
        lambda value: (
            isinstance(value, int) and not isinstance(value, bool) and low <= value <= high
        ),
    )


def _one_of(names: tuple[str, ...]) -> Rule:
    words = ", ".join(f'"{name}"' for name in names)
    return Rule(f"one of {words}", lambda value: isinstance(value, str) and value in names)


def _several(each: Rule, *, empty: str = "") -> Rule:
    """A list of different values that each satisfy a rule; `empty` says what an empty list
    means."""
    allowed = "a list without repeats, each " + each.allowed + (f"; [] {empty}" if empty else "")
    return Rule(
        allowed,
        lambda value: (
            isinstance(value, list)
            and (bool(empty) or bool(value))
            and all(each.holds(item) for item in value)
            and len(set(value)) == len(value)
        ),
    )


def _is_key(value: object) -> bool:
    try:
        return isinstance(value, str) and bool(Key.parse(value))
    except ChartError:
        return False


def _is_chord(value: object) -> bool:
    """Whether a value is the text of one chord over its own root, without articulation."""
    return isinstance(value, str) and _names_chord(value)


@lru_cache(maxsize=1024)
def _names_chord(text: str) -> bool:
    """Whether a text is one chord over its own root; recipes name the same few again and again."""
    try:
        bars = parse(text).bars() if "\n" not in text else ()
    except NotationError:
        return False
    chords = [event.chord for bar in bars for event in bar.events]
    return len(chords) == 1 and str(chords[0]) == text and "/" not in text


def _is_slash_chord(value: object) -> bool:
    """Whether a text is one triad over another bass, without articulation."""
    return isinstance(value, str) and is_skill(f"bass {value}")


def _is_bars(value: object) -> bool:
    each = _whole(1, 400)
    return isinstance(value, list) and len(value) == 2 and all(map(each.holds, value))


def _is_skill(value: object) -> bool:
    return isinstance(value, str) and is_skill(value)


def _is_tempo(value: object) -> bool:
    return (
        isinstance(value, list)
        and len(value) == 2
        and all(_is_number(item) and 20 <= item <= 400 for item in value)
    )


def _styles() -> Rule:
    """A list of styles, or a table of them with weights."""
    each = _several(_one_of(tuple(STYLES)))
    return Rule(
        f"{each.allowed}; or a table of styles with weights above 0, at most {MOST_WEIGHT:g}",
        lambda value: (
            each.holds(list(value)) and all(map(_is_weight, value.values()))
            if isinstance(value, Mapping)
            else each.holds(value)
        ),
    )


def _is_weight(value: object) -> bool:
    return _is_number(value) and 0 < value <= MOST_WEIGHT  # type: ignore[operator]


SKILL_EXAMPLES = (
    'such as "chord 6-", "bass 5/7", "meter 3/4", "feel shuffle", "extension 7", '
    + ", ".join(f'"{name}"' for name in PLAIN_SKILLS)
)
_RATE = _number(0, 1)
_FLAG = Rule("true or false", lambda value: isinstance(value, bool))
_CHORD = Rule(
    'a chord in notation without bass or articulation, as in "1", "6-", "b7" or '
    f'"5^7" (extensions: {", ".join(dict.fromkeys(e for x in EXTENSIONS.values() for e in x))})',
    _is_chord,
)

RULES: dict[str, Rule] = {
    "size": _one_of(SIZES),
    "styles": _styles(),
    "meters": _several(
        _one_of(tuple(sorted({str(style.meter) for style in STYLES.values()}))),
        empty="keeps the meters of the styles",
    ),
    "tempo": Rule(
        "[low, high] in beats a minute, each from 20 to 400; leave it out for the style's tempo",
        _is_tempo,
    ),
    "keys": _several(
        Rule('a key such as "D", "Bb", "F#" or "E minor"', _is_key), empty="means the usual twelve"
    ),
    "chords": _several(_CHORD, empty="allows every chord"),
    "favour": _several(_CHORD, empty="favours none"),
    "basses": _several(
        Rule('a slash chord such as "5/7" or "6-/5"', _is_slash_chord), empty="allows every bass"
    ),
    "extensions": _RATE,
    "minor": _RATE,
    "phrase_bars": _whole(2, 8),
    "odd_lengths": _several(_whole(1, 16)),
    "variety": _RATE,
    "bars": Rule("[least, most] bars, each from 1 to 400; leave it out for any number", _is_bars),
    "least_chords": _whole(1, 12),
    "needs": _several(Rule(f"a skill, {SKILL_EXAMPLES}", _is_skill), empty="needs none"),
    "thrice": _several(Rule(f"a skill, {SKILL_EXAMPLES}", _is_skill), empty="asks for none"),
    "within": _several(
        Rule(
            'a chord, extension or slash chord as a skill, such as "chord 6-", "extension 7" or '
            '"bass 5/7"',
            lambda value: _is_skill(value) and str(value).startswith(WITHIN_KINDS),
        ),
        empty="allows all",
    ),
    "around": Rule(
        f'a skill, {SKILL_EXAMPLES}; "" plays the whole song',
        lambda value: value == "" or _is_skill(value),
    ),
    "counted": _one_of(("", RELATIVE_MAJOR)),
    "band": _one_of(BANDS),
    "listens": _whole(0, MOST_LISTENS, " (0: no limit)"),
    "loop": _FLAG,
    "ask": _one_of(ASKS),
    **{f"features.{field.name}": _RATE for field in fields(Features)},
    "help.bass_lift_db": _number(0, 12),
    "help.tonic_first": _FLAG,
    "help.count_off": _FLAG,
    "help.light": _one_of(LIGHTS),
}
TABLES = ("features", "help")
