"""What is stored about exercises, reports and drafts, rewritten in the signs of revision 0007.

Frozen like `trainer.store.migrations.signs`. Values are told by the key they stand under, so JSON
of another shape than expected passes through as it is. Exports of that time are read with it, too.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from trainer.store.migrations.signs import (
    Piece,
    new_chord,
    new_sentence,
    new_skill,
    new_text,
    pieces_of_text,
)

__all__ = ["new_bar", "new_exercise", "new_name", "new_report", "new_stamps"]

Rules = Mapping[str, Callable[[str], str]]


def new_name(name: str) -> str:
    """A chord, a bar or the articulation "stop" by its new name."""
    return "choke" if name == "stop" else new_chord(name)


def _new_quality(quality: str) -> str:
    return "ø" if quality == "h" else quality


EXERCISE: Rules = {
    **dict.fromkeys(("chord", "chords", "favour", "articulation"), new_name),
    **dict.fromkeys(("skills", "needs", "thrice", "around"), new_skill),
    "quality": _new_quality,
    "text": new_text,
}
REPORT: Rules = {
    **dict.fromkeys(("played", "written"), new_name),
    **dict.fromkeys(("advice", "summary", "text"), new_sentence),
}
BAR: Rules = {
    **dict.fromkeys(("played", "written", "confusions"), new_name),
    "skills": new_skill,
}
KEYS = {"stops": "chokes"}


def new_exercise(data: Any) -> Any:
    """An exercise as stored: its recipe, its skills and its chart."""
    return _rewrite(data, EXERCISE)


def new_report(data: Any) -> Any:
    """A report: the chords it names and the sentences that quote them. Scores stay as they are."""
    return _rewrite(data, REPORT)


def new_bar(data: Any) -> Any:
    """A graded bar: its chords and skills."""
    return _rewrite(data, BAR)


def _rewrite(value: Any, rules: Rules, key: str = "") -> Any:
    if isinstance(value, Mapping):
        return {KEYS.get(name, name): _rewrite(each, rules, name) for name, each in value.items()}
    if isinstance(value, list):
        new = [_rewrite(each, rules, key) for each in value]
        # Skills stand in alphabetical order, in which a new name has another place.
        return sorted(new) if key == "skills" and all(isinstance(s, str) for s in new) else new
    if isinstance(value, str) and key in rules:
        return rules[key](value)
    return value


def new_stamps(text: str, stamps: str) -> str:
    """When the characters of a text in the new signs were typed, from the record of the old ones.

    The record is a JSON list of [count, seconds], counted in UTF-16 units. What stands for a sign
    was typed when the last character of that sign was; a bracket that is new, when the character
    before it was. A record that does not fit the text stays as it is: it says nothing.
    """
    try:
        times = [seconds for count, seconds in json.loads(stamps or "null") for _ in range(count)]
    except (TypeError, ValueError):
        return stamps
    if len(times) != _units(text):
        return stamps
    return json.dumps([[1, moment] for moment in _new_times(pieces_of_text(text), times)])


def _new_times(pieces: Iterator[Piece], times: list[float | None]) -> Iterator[float | None]:
    at, last = 0, None
    for new, old in pieces:
        own = times[at : at + _units(old)]
        at += len(own)
        last = own[-1] if own else last
        yield from own if new == old else [last] * _units(new)


def _units(text: str) -> int:
    return len(text) if text.isascii() else len(text.encode("utf-16-le", "surrogatepass")) // 2
