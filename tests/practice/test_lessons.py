"""Which lesson is offered or advised for what."""

from __future__ import annotations

import pytest

from tests.lessons import made_lesson
from trainer.exercise import load_course
from trainer.practice import (
    lesson_for_advice,
    lesson_for_pair,
    lesson_for_skill,
    level_lessons,
)

SEVEN = made_lesson()
SUS = made_lesson(
    id="sus", teaches=("extension sus4",), mixed_up=(("5^sus4", "5"), ("4/5", "5^sus4"))
)
HOLD = made_lesson(id="hold", teaches=("hold",), mixed_up=())
PUSH = made_lesson(id="push", teaches=("push",), mixed_up=())
EVEN = made_lesson(id="even", teaches=("even split",), mixed_up=())
UNEVEN = made_lesson(id="uneven", teaches=("uneven split",), mixed_up=())
HOME = made_lesson(id="home", teaches=(), mixed_up=(), advice=("home",))
MINOR = made_lesson(id="minor", teaches=(), mixed_up=(), advice=("home: relative major",))
LESSONS = (SEVEN, SUS, HOLD, PUSH, EVEN, UNEVEN, HOME, MINOR)


@pytest.mark.parametrize(
    ("played", "written", "lesson"),
    [
        ("5/7", "5", "five-over-seven"),
        ("5", "5/7", "five-over-seven"),
        ("5/7", "5^7", "five-over-seven"),
        ("5^7/7", "5", "five-over-seven"),
        ("5^sus4", "5", "sus"),
        ("5", "4/5", None),
        ("5", "5", None),
        ("1", "4", None),
    ],
)
def test_two_chords_have_the_lesson_that_tells_them_apart(
    played: str, written: str, lesson: str | None
) -> None:
    """The order does not matter; an extension counts only where the lesson is about it."""
    found = lesson_for_pair(LESSONS, played, written)
    assert (found.id if found is not None else None) == lesson


@pytest.mark.parametrize(
    ("kind", "cases", "skills", "lesson"),
    [
        ("other bass", [("5/7", "5/2")], ["bass 5/7"], "five-over-seven"),
        ("bass left out", [("5/7", "5")], [], "five-over-seven"),
        ("articulation left out", [("1d", "1")], ["hold", "chord 1"], "hold"),
        ("articulation added", [("1", "1p")], ["chord 1"], "push"),
        ("beats", [("(1''' 5')", "(1 5)")], ["uneven split", "even split"], "uneven"),
        ("split missed", [("(1 5)", "1")], ["even split"], "even"),
        ("split missed", [("(1 5)", "1")], ["uneven split"], "uneven"),
        ("home: another home", [("1", "4")], ["chord 1"], "home"),
        ("home: relative major", [("1-", "6-")], ["chord 1-"], "minor"),
        ("other chord", [("1", "3-"), ("5/7", "5")], [], "five-over-seven"),
        ("other chord", [("1", "3-")], ["hold"], None),
        ("speed", [], [], None),
    ],
)
def test_advice_has_the_lesson_that_helps(
    kind: str, cases: list[tuple[str, str]], skills: list[str], lesson: str | None
) -> None:
    """Chords are looked up first, then the skills that the kind of advice is about, then the kind
    itself; advice on anything else has no lesson."""
    found = lesson_for_advice(LESSONS, kind, cases, skills)
    assert (found.id if found is not None else None) == lesson


def test_a_level_opens_with_the_lessons_of_what_is_new() -> None:
    """Skills that a level only trains again open no lesson."""
    course = load_course()
    opened = {level.id: [lesson.id for lesson in level_lessons(LESSONS, level)] for level in course}
    assert [level for level, ids in opened.items() if "hold" in ids] == ["holds"]
    of_slash = [level for level, ids in opened.items() if "five-over-seven" in ids]
    assert of_slash == ["five-over-seven"]
    assert opened["six-minor"] == []


def test_a_skill_has_its_lesson() -> None:
    """A skill is looked up by its name; one that no lesson teaches has none."""
    assert lesson_for_skill(LESSONS, "push") is PUSH
    assert lesson_for_skill(LESSONS, "chord 9") is None
