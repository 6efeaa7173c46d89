"""Places of skills: how often a song has one, and the songs that levels draw because of it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from trainer.chart import format_chart, parse
from trainer.errors import SettingsErrorGroup
from trainer.exercise import (
    Recipe,
    count_places,
    load_course,
    make_exercise,
    recipe_from_dict,
)
from trainer.exercise.places import bars_around
from trainer.exercise.skills import bar_skills

COURSE = load_course()


def test_levels_that_introduce_nothing_promise_nothing() -> None:
    """Only a level that introduces a skill draws its songs for it."""
    assert all(set(level.recipe.thrice) <= set(level.introduced) for level in COURSE)
    assert [level.id for level in COURSE if not level.introduced] == [
        "any-key", "whole-section", "two-sections", "second-verse", "train-and-half-time",
        "minor-songs", "key-change-songs", "work-tape", "session-day", "one-listen",
    ]  # fmt: skip


def test_places_of_a_key_change() -> None:
    """A change of key counts its mark, its interval and up to four bars in the new key."""
    skills = bar_skills(parse("1 4 5 1 . [up 2] 1 4 5 1 . 1 1"))
    assert count_places(skills, "key change") == 6
    assert count_places(bar_skills(parse("1 4 5 . [up 2] 1")), "key change") == 3
    assert count_places(skills, "chord 1") == 6


def test_places_of_a_pickup() -> None:
    """A pickup counts its bar, its length and the first bar after it."""
    assert count_places(bar_skills(parse("[2/4] 5 1 4 5 1")), "pickup") == 3


AROUND = {
    "odd phrase": ("1 1 1 1 . 4 4 4 . 5 5 5 5", "1 1 1 1 . 4 4 4"),
    "vamp": ("5 5 . 1 4 . 1 4 . 1 4 . 1 4", "1 4 . 1 4 . 1 4"),
    "chord 4": ("4 4 1 1 . 5 5 5 5", "4 4 1 1"),
    "key change": ("1 1 . 2- 2- . [up 2] 4 1 . 5 5", "2- 2- . [up 2] 4 1"),
    "hold": ("1 1 1 1", "1 1 1 1"),
}


@pytest.mark.parametrize(("skill", "song", "cut"), [(k, *v) for k, v in AROUND.items()], ids=AROUND)
def test_bars_around(skill: str, song: str, cut: str) -> None:
    """A place is cut out with its phrase and the phrase before; without one, all is kept."""
    assert bars_around(parse(song), skill).sections == parse(cut).sections


def test_what_returned_is_cut_with_what_it_was() -> None:
    """A section that came back changed stands beside the last one of its kind."""
    song = "Verse 1:\n1 1\nChorus:\n4 4\nVerse 2:\n1 5\n"
    cut = bars_around(parse(song), "changed return")
    assert format_chart(cut) == format_chart(parse("Verse 1:\n1 1\nVerse 2:\n1 5\n"))


def test_around_is_a_part_of_the_song() -> None:
    """A recipe that asks for what is around a skill plays a part of the song without it."""
    level = next(level for level in COURSE if level.id == "key-change-songs")
    whole = make_exercise(level.recipe, 3)
    part = make_exercise(replace(level.recipe, around="key change"), 3)
    assert part.id != whole.id
    assert len(part.chart.bars()) < 24
    assert "key change" in part.skills


def test_a_promise_needs_its_rate() -> None:
    """A recipe that promises what its rates never bring is refused."""
    with pytest.raises(SettingsErrorGroup, match=r"features\.pushes"):
        recipe_from_dict({"thrice": ["push"]}, "mine.toml")
    assert Recipe().thrice == ()
