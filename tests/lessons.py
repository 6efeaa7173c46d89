"""A lesson for tests of every room, made without a file."""

from __future__ import annotations

from typing import Any

from trainer.chart import Feel, Key, Meter, parse, say_chord
from trainer.exercise import Choice, Lesson, Line

__all__ = ["made_lesson"]

LINES = ("1 {} 6- 4", "1 {} 6- 5", "1 1 {} 6-", "1 {} 1 4", "4 1 {} 6-", "1 {} 6- 2-")


def made_lesson(*names: str, **changes: Any) -> Lesson:
    """A lesson whose choices are chords, 5/7 and 5 if none are named, in the same six lines."""
    chords = names or ("5/7", "5")
    choices = tuple(
        Choice(name, say_chord(chord), Meter(4, 4), Feel.STRAIGHT)
        for name in chords
        for chord in [parse(name).bars()[0].events[0].chord]
        if chord is not None
    )
    values: dict[str, Any] = {
        "id": "five-over-seven",
        "title": "Five over seven",
        "group": "signs",
        "order": 1,
        "teaches": ("bass 5/7",),
        "mixed_up": (("5/7", "5"),),
        "advice": (),
        "about": "The bass walks down.",
        "listen_for": "The bass.",
        "question": "Which did you hear?",
        "tempo": (90.0, 110.0),
        "keys": tuple(map(Key, "CDG")),
        "band": "small",
        "choices": choices,
        "lines": tuple(Line(tuple(parse(line.format(name)) for name in chords)) for line in LINES),
    }
    return Lesson(**values | changes)
