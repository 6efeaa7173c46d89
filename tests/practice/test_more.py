"""Ten more of just this."""

from __future__ import annotations

import random

import pytest

from tests.practice.samples import NOW
from trainer.errors import SettingsError
from trainer.exercise import Level, load_course
from trainer.practice import MORE_EXERCISES, LearnerState, more_exercises

COURSE = load_course()
LONGEST = 40


@pytest.mark.many
@pytest.mark.parametrize("level", COURSE, ids=lambda level: f"level {level.number}")
def test_each_exercise_has_the_skill_and_is_short(level: Level) -> None:
    """All ten have the skill, as difficult as on the level, and are no whole songs."""
    skill = level.skills[-1]
    made = more_exercises(LearnerState.fresh(), level, skill, NOW, random.Random(1))
    assert len({each.exercise.id for each in made}) == len(made) == MORE_EXERCISES
    for each in made:
        assert skill in each.exercise.skills
        assert each.exercise.level is None
        assert (each.exercise.ask, each.exercise.help) == (level.recipe.ask, level.recipe.help)
        assert len(each.exercise.chart.bars()) <= LONGEST
        assert 0 < each.expected < 1
        assert f"level {level.number}" in each.aim.reason


def test_only_skills_of_the_level() -> None:
    """What a level does not teach is refused with what it teaches."""
    with pytest.raises(SettingsError, match="bass 5/7"):
        more_exercises(LearnerState.fresh(), COURSE[6], "hold", NOW, random.Random(1))
