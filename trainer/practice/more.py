"""Ten more of just this: short exercises around one skill, as difficult as a level."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import datetime

from trainer.errors import SettingsError
from trainer.exercise import Level, Recipe, make_exercise
from trainer.practice.catalogue import describe_skill
from trainer.practice.choice import Predictions, exercise_profile
from trainer.practice.daily import Aim
from trainer.practice.items import SEEDS, ChosenExercise
from trainer.practice.rating import LearnerState

__all__ = ["MORE", "MORE_EXERCISES", "more_exercises", "more_recipe"]

MORE = "more"
MORE_EXERCISES = 10


def more_recipe(level: Level, skill: str) -> Recipe:
    """The recipe of a level, cut to the bars around a place of one of its skills.

    Chords, tempo, band, help and listens stay those of the level. Raises SettingsError for a skill
    that the level does not teach.
    """
    if skill not in level.skills:
        expected = f"one of level {level.number}: {', '.join(level.skills)}"
        raise SettingsError("skill", repr(skill), expected)
    return replace(level.recipe, needs=(skill,), thrice=(), around=skill)


def more_exercises(
    state: LearnerState, level: Level, skill: str, now: datetime, rng: random.Random
) -> tuple[ChosenExercise, ...]:
    """Ten exercises around a skill of a level, each of another song. They are of no level: they
    are practice for it. Raises SettingsError as `more_recipe` does."""
    recipe = more_recipe(level, skill)
    reason = f"More of just this: {describe_skill(skill)}, as on level {level.number}."
    aim = Aim(MORE, (skill,), reason)
    predictions = Predictions(state, now)
    made = []
    for seed in rng.sample(range(SEEDS), MORE_EXERCISES):
        exercise = make_exercise(recipe, seed)
        profile = exercise_profile(exercise)
        expected = predictions.of(profile, frozenset(aim.skills)).score
        made.append(ChosenExercise(aim, exercise, expected, profile.minutes))
    return tuple(made)
