from __future__ import annotations

from collections import Counter
from dataclasses import replace
from functools import lru_cache

import pytest

from tests.generate.everyday import EVERYDAY
from tests.thorough import how_many
from trainer.errors import SettingsError
from trainer.exercise import (
    Recipe,
    bar_skills,
    load_course,
    make_exercise,
    recipe_from_dict,
    recipe_to_dict,
)
from trainer.practice.aims import STAGES, aimed_recipe, can_aim, plain_recipe
from trainer.practice.catalogue import kind_of
from trainer.practice.items import course_skills

COURSE = course_skills(load_course())
# One or more of each kind. Left out are 1, 4, 5 and the seventh, which make up a fifth to a half
# of everyday bars already, where a section starts, which every song has as often as sections, and
# the vamp, on which most everyday songs fade.
THREEFOLD = (
    "chord 6-", "chord 2-", "chord 3-", "chord b7", "chord 4-", "chord 1-", "chord b6",
    "bass 5/7", "bass 1/3", "extension sus4", "extension maj7", "even split", "uneven split",
    "hold", "push", "choke", "short bar", "odd phrase", "key change", "tag", "minor home",
    "meter 3/4", "meter 6/8", "feel shuffle", "feel waltz", "feel train beat", "no chord",
    "pickup", "twelve-bar form", "relative home",
)  # fmt: skip
MORE = ("changed return", "extension 7", "away opening")
SECTIONS, SONGS = 60, 16
THOROUGH_SECTIONS, THOROUGH_SONGS = 90, 24


def songs_of(size: str) -> int:
    """How many songs of a size are looked at."""
    whole = size == "song"
    return how_many(SONGS if whole else SECTIONS, THOROUGH_SONGS if whole else THOROUGH_SECTIONS)


def shares(recipe: Recipe, songs: int) -> dict[str, float]:
    """The share of bars that have each skill, over songs of many seeds."""
    counts: Counter[str] = Counter()
    bars = 0
    for seed in range(songs):
        for skills in bar_skills(make_exercise(recipe, seed).chart):
            counts.update(skills)
            bars += 1
    return {skill: count / bars for skill, count in counts.items()}


@lru_cache(maxsize=2)
def everyday(size: str) -> dict[str, float]:
    """What a plain recipe has: everyday songs with every chord, style and rate of the tables."""
    songs_only = {} if size == "song" else {"key_change": 0.0, "tag": 0.0, "later_changes": 0.0}
    recipe = replace(
        plain_recipe(3 if size == "song" else 1),
        styles=tuple(style for style in EVERYDAY.styles if style != "twelve-bar blues"),
        chords=(),
        bars=None,
        extensions=EVERYDAY.extensions,
        minor=EVERYDAY.minor,
        features=replace(EVERYDAY.features, **songs_only),
    )
    return shares(recipe, 2 * songs_of(size))


def times_as_often(skill: str) -> float:
    """How many times as often a skill occurs in its own recipe as in the plain one."""
    recipe = aimed_recipe(skill, 1)
    plain = everyday(recipe.size).get(skill, 0.0)
    aimed = shares(recipe, songs_of(recipe.size)).get(skill, 0.0)
    assert aimed > 0
    return aimed / max(plain, 1e-3)


@pytest.mark.many
@pytest.mark.hypothesis
@pytest.mark.parametrize("skill", THREEFOLD)
def test_an_aimed_recipe_has_three_times_as_much(skill: str) -> None:
    """Over many seeds the skill aimed at stands in three times as many bars as in plain songs."""
    assert times_as_often(skill) >= 3


@pytest.mark.many
@pytest.mark.hypothesis
@pytest.mark.parametrize("skill", MORE)
def test_what_is_common_already_comes_more_often(skill: str) -> None:
    """What stands in most everyday songs anyway still comes twice as often when aimed at."""
    assert times_as_often(skill) >= 2


def test_every_kind_is_held() -> None:
    """Each kind of skill of the course is held above, where sections start aside."""
    kinds = {kind_of(skill) for skill in COURSE}
    assert kinds - {kind_of(skill) for skill in (*THREEFOLD, *MORE)} == {"section start"}


@pytest.mark.many
@pytest.mark.parametrize("skill", COURSE)
def test_a_recipe_can_be_made_for_every_skill(skill: str) -> None:
    """At each step a skill of the course has a sound recipe whose songs hold it."""
    for stage in range(len(STAGES)):
        recipe = aimed_recipe(skill, stage)
        assert recipe_from_dict(recipe_to_dict(recipe), "aimed") == recipe
        assert skill in make_exercise(recipe, 5).skills


@pytest.mark.parametrize("skill", ["chord 2-", "bass 5/7", "even split", "odd phrase"])
def test_only_chords_that_were_met_stand_beside_it(skill: str) -> None:
    """A newcomer's exercise has the first three chords, those met, and the one aimed at."""
    allowed = {"chord 1", "chord 4", "chord 5", "chord 6-", skill}
    for seed in range(5):
        skills = make_exercise(aimed_recipe(skill, 1, {"6-"}), seed).skills
        assert {each for each in skills if kind_of(each) == "chord"} <= allowed


def test_less_help_step_by_step() -> None:
    """Each step gives no more help and no fewer chords than the one before."""
    recipes = [plain_recipe(stage) for stage in range(len(STAGES))]
    lifts = [recipe.help.bass_lift_db for recipe in recipes]
    assert lifts == sorted(lifts, reverse=True)
    assert [len(recipe.chords) for recipe in recipes] == [4, 6, 7, 9]


@pytest.mark.parametrize("skill", ["long bar", "chord 9", "nonsense"])
def test_what_cannot_be_made_is_refused(skill: str) -> None:
    """A skill that no song can be made for is refused by name."""
    assert not can_aim(skill)
    with pytest.raises(SettingsError, match=skill):
        aimed_recipe(skill, 1)
