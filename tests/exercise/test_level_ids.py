"""Lasting ids of levels."""

from __future__ import annotations

from dataclasses import replace

from trainer.exercise import FIRST_IDS, first_id, load_course, make_exercise
from trainer.store.migrations.versions import v0009_level_ids

COURSE = {level.id: level for level in load_course()}


def test_the_levels_of_the_first_course_are_still_there() -> None:
    """No level of the first course has lost its id, so every result on record has its level."""
    assert set(FIRST_IDS) <= set(COURSE)
    assert (first_id(1), first_id(31)) == ("home-four-five", "one-listen")
    assert [first_id(None), first_id(0), first_id(32)] == [None] * 3


def test_the_levels_of_the_first_course_keep_their_order() -> None:
    """What came first still comes first, so nobody skips a level by having passed a later one."""
    assert [level_id for level_id in COURSE if level_id in FIRST_IDS] == list(FIRST_IDS)


def test_the_migration_names_the_same_levels() -> None:
    """Stores of before and exports of before are read by one list."""
    assert v0009_level_ids.LEVELS == FIRST_IDS


def test_an_exercise_keeps_its_id_when_its_level_moves() -> None:
    """The same recipe and seed give the same exercise, whatever number the level has."""
    level = COURSE["six-minor"]
    moved = replace(level, number=17)
    assert make_exercise(level.recipe, 1, moved).id == make_exercise(level.recipe, 1, level).id
    other = replace(level, id="another")
    assert make_exercise(level.recipe, 1, other).id != make_exercise(level.recipe, 1, level).id
