from __future__ import annotations

import pytest

from trainer.chart import parse
from trainer.exercise import bar_skills, chart_skills
from trainer.exercise.skills import PLAIN_SKILLS, is_skill

ALWAYS = {"meter 4/4", "feel straight"}

# What a bar teaches as the project's words say it; common practice, no source.
ONE_BAR = {
    "1": {"chord 1"},
    "b7": {"chord b7"},
    "6-": {"chord 6-"},
    "2-^7": {"chord 2-", "extension 7"},
    "5/7": {"chord 5", "bass 5/7"},
    "4-/b6": {"chord 4-", "bass 4-/b6"},
    "(4 5)": {"chord 4", "chord 5", "even split"},
    "(1''' 5')": {"chord 1", "chord 5", "uneven split"},
    "1d": {"chord 1", "hold"},
    "4p": {"chord 4", "push"},
    "5c": {"chord 5", "choke"},
    "0": {"no chord"},
    "[2/4]5": {"chord 5", "short bar"},
    "[6/4]5": {"chord 5", "long bar"},
    "[up 2]1": {"chord 1", "key change"},
}


@pytest.mark.parametrize("text", ONE_BAR)
def test_one_bar(text: str) -> None:
    """Each thing that can happen in a bar is a skill of that bar, and of no other."""
    plain, skills = bar_skills(parse(f"1 {text}"))
    assert plain == ALWAYS | {"chord 1"}
    assert skills == ALWAYS | ONE_BAR[text]


@pytest.mark.parametrize(
    ("bars", "odd"),
    [(2, False), (3, True), (4, False), (5, True), (6, True), (7, True), (8, False)],
)
def test_odd_phrase(bars: int, odd: bool) -> None:
    """A phrase of 3, 5, 6 or 7 bars teaches its length where it ends."""
    skills = bar_skills(parse("1 " * bars + ". 1 4 5 1"))
    assert ["odd phrase" in each for each in skills] == ([False] * (bars - 1) + [odd] + [False] * 4)


def test_sections_tag_and_minor() -> None:
    """Section starts, tags and a minor home are told."""
    chart = parse("key: E minor\n\nVerse 1:\n1- b6\n\nTag:\nb7 1-d\n")
    skills = bar_skills(chart)
    assert all("minor home" in each for each in skills)
    assert ["tag" in each for each in skills] == [False, False, True, True]
    assert ["section start" in each for each in skills] == [False, False, True, False]


@pytest.mark.parametrize(
    ("second", "changed"),
    [
        ("1 4 5 1", []),
        ("1 4 5 5 1", [9]),
        ("1 4 5 6-", [9]),
        ("1 4 1", [8]),
        ("1 4 5", [8]),
        ("1 4 5d 1", [8]),
        ("[up 2]1 4 5 1", []),
    ],
    ids=["same", "bar added", "another chord", "bar cut", "end cut", "held", "key moved"],
)
def test_changed_return(second: str, changed: list[int]) -> None:
    """Where a section comes back, the bars that differ teach; a moved key changes no number."""
    chart = parse(f"Verse 1:\n1 4 5 1\n\nChorus:\n4\n\nVerse 2:\n{second}\n")
    found = [n for n, each in enumerate(bar_skills(chart), 1) if "changed return" in each]
    assert found == changed


def test_chart_skills_are_those_of_its_bars() -> None:
    """A chart has each skill of its bars once, in order, and every one is a known name."""
    chart = parse("meter: 6/8\n\nVerse:\n1-^7 b7/2d (4 5) . #4o^7 5+\n\nTag:\n(1'''' 5'') 0\n")
    skills = chart_skills(chart)
    assert list(skills) == sorted(set().union(*bar_skills(chart)))
    assert all(map(is_skill, skills))


@pytest.mark.parametrize(
    "name", [*PLAIN_SKILLS, "chord #4o", "bass 5/7", "meter 12/8", "feel two-beat", "extension 7b9"]
)
def test_known_names(name: str) -> None:
    """Names that a chart can give are skills."""
    assert is_skill(name)


@pytest.mark.parametrize(
    "name",
    [
        "",
        "splits",
        "chord 8",
        "chord 5/7",
        "bass 5",
        "feel polka",
        "extension 8",
        "meter",
        "chord 6-\n",
    ],
)
def test_unknown_names(name: str) -> None:
    """Names that no chart can give are none."""
    assert not is_skill(name)


def _with_skill(text: str, skill: str) -> list[int]:
    """The bars, from 1, of a chart that have a skill."""
    return [number for number, has in enumerate(bar_skills(parse(text)), 1) if skill in has]


def test_a_pickup_is_no_short_bar() -> None:
    """A short first bar is a pickup; it counts neither as short nor in its phrase's length."""
    text = "[2/4] 5 1 4 5 1 . 1 1 [2/4] 1 1"
    assert _with_skill(text, "pickup") == [1]
    assert _with_skill(text, "short bar") == [8]
    assert _with_skill(text, "odd phrase") == []


def test_a_phrase_alone_is_not_odd() -> None:
    """A chart of one phrase shows no boundary, whatever its length."""
    assert _with_skill("1 4 5 1 1", "odd phrase") == []
    assert _with_skill("1 4 5 1 1 . 1 1", "odd phrase") == [5]


def test_a_vamp_is_a_line_that_comes_a_third_time() -> None:
    """Bars are a vamp from the third time on, whether they fade or not."""
    assert _with_skill("1 4 . 1 4 . [fade] 1 4 . 1 4", "vamp") == [5, 6, 7, 8]
    assert _with_skill("1 4 . 1 4 . 1 5 . 1 4", "vamp") == []


def test_twelve_bars_have_three_lines() -> None:
    """The bars that open the lines of home, 4 and 5 are the form's; other lines are none."""
    blues = "1 1 1 1 . 4 4 1 1 . 5 4 1 1"
    assert _with_skill(blues, "twelve-bar form") == [1, 5, 9]
    assert _with_skill("1 1 1 1 . 1 4 1 1 . 5 4 1 1", "twelve-bar form") == []
    assert _with_skill("1 1 1 1 . 4 4 1 1", "twelve-bar form") == []


def test_where_a_song_opens_and_rests() -> None:
    """Songs that do not open on the 1, and those in a major key that open and end on the 6-."""
    assert _with_skill("4 1", "away opening") == [1, 2]
    assert _with_skill("[1/4] 5 1 4 5", "away opening") == []
    assert _with_skill("6- 4 6-", "relative home") == [1, 2, 3]
    assert _with_skill("6- 4 1", "relative home") == []
    assert _with_skill("key: E minor\n\n1- 1-", "relative home") == []
