"""From an aim to an exercise that is just difficult enough, and ten more of just one skill."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache

from trainer.errors import SettingsError
from trainer.exercise import Exercise, Level, Recipe, make_exercise
from trainer.practice.aims import (
    OF_LEVELS,
    STAGES,
    aimed_recipe,
    can_aim,
    plain_recipe,
    remedial_recipe,
)
from trainer.practice.catalogue import describe_skill, kind_of, name_of
from trainer.practice.choice import (
    MOST_MINUTES,
    TARGET,
    ExerciseProfile,
    Predictions,
    best_profile,
    exercise_profile,
)
from trainer.practice.daily import Aim, is_missed
from trainer.practice.placement import PLACEMENT_TARGET, placement_recipes
from trainer.practice.rating import LearnerState

__all__ = [
    "MORE",
    "MORE_EXERCISES",
    "ChosenExercise",
    "candidate_profiles",
    "choose_exercise",
    "course_skills",
    "known_chords",
    "more_exercises",
    "more_recipe",
]

SEEDS = 1_000_000
# The first stages, at which there is help.
HELPED_STAGES = 2
# No whole song takes fewer minutes.
SONG_MINUTES = 2.5
# The kind of the items that are more of one skill, and how many there are.
MORE = "more"
MORE_EXERCISES = 10


@dataclass(frozen=True, slots=True)
class ChosenExercise:
    """The exercise chosen for an aim, its predicted score (0 to 1) and the minutes it takes."""

    aim: Aim
    exercise: Exercise
    expected: float
    minutes: float


def course_skills(levels: Iterable[Level]) -> tuple[str, ...]:
    """The skills of the course that sets aim at, in the order of its levels."""
    found = dict.fromkeys(skill for level in levels for skill in level.skills)
    return tuple(skill for skill in found if can_aim(skill) and skill not in OF_LEVELS)


def known_chords(state: LearnerState) -> frozenset[str]:
    """The chords, by degree and quality, that a learner has met."""
    return frozenset(name_of(skill) for skill in state.skills if kind_of(skill) == "chord")


def candidate_profiles(skill: str) -> tuple[ExerciseProfile, ...]:
    """The profiles of exercises for a skill, by which its aim is weighed; they are made once.

    There is one for each stage without whole songs; for a skill that only songs have, one song.
    """
    recipes = [aimed_recipe(skill, stage) for stage in range(len(STAGES) - 1)]
    if recipes[-1].size == "song":
        recipes = recipes[-1:]
    return tuple(_prototype(recipe, stage) for stage, recipe in enumerate(recipes))


def choose_exercise(
    state: LearnerState,
    aim: Aim,
    now: datetime,
    rng: random.Random,
    *,
    longest: float = MOST_MINUTES,
) -> ChosenExercise:
    """Make one exercise for each stage of help and choose the best for an aim.

    For a weak skill there is a remedial one as well, and for one that was mostly missed there are
    only those with help. The chosen one takes at most `longest` minutes if there is one so
    short. Whole songs are weighed by a song made earlier, because they take longest to make.
    """
    seed = rng.randrange(SEEDS)
    recipes = _recipes(state, aim, now)
    if longest < SONG_MINUTES:
        recipes = [recipe for recipe in recipes if recipe.size != "song"] or recipes
    made = {at: _make(recipe, seed) for at, recipe in enumerate(recipes) if recipe.size != "song"}
    profiles = [
        exercise_profile(made[at]) if at in made else _prototype(recipe, at)
        for at, recipe in enumerate(recipes)
    ]
    target = PLACEMENT_TARGET if aim.kind == "placement" else TARGET
    at, prediction = best_profile(Predictions(state, now), profiles, aim.skills, target, longest)
    exercise = made[at] if at in made else _make(recipes[at], seed)
    return ChosenExercise(aim, exercise, prediction.score, exercise_profile(exercise).minutes)


def _recipes(state: LearnerState, aim: Aim, now: datetime) -> Sequence[Recipe]:
    if aim.kind == "placement":
        return placement_recipes()
    known = known_chords(state)
    if not aim.skills:
        return tuple(plain_recipe(stage, known) for stage in range(len(STAGES)))
    stages = tuple(aimed_recipe(aim.skills[0], stage, known) for stage in range(len(STAGES)))
    if aim.kind != "weak":
        return stages
    # With many known chords beside it, a missed skill that is out of reach hardly lowers the mean.
    most = HELPED_STAGES if is_missed(state, aim.skills[0], now) else len(stages)
    return (remedial_recipe(aim.skills[0], known), *stages[:most])


@lru_cache(maxsize=1024)
def _prototype(recipe: Recipe, seed: int) -> ExerciseProfile:
    return exercise_profile(_make(recipe, seed))


def _make(recipe: Recipe, seed: int) -> Exercise:
    """The exercise of a recipe; where no song meets its requirements, one without them.

    A set must not fail because of a rare combination of chords that a learner has met.
    """
    try:
        return make_exercise(recipe, seed)
    except SettingsError:
        return make_exercise(replace(recipe, bars=None, least_chords=1, needs=()), seed)


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
    reason = f"More practice with {describe_skill(skill)}, from level {level.number}."
    aim = Aim(MORE, (skill,), reason)
    predictions = Predictions(state, now)
    made = []
    for seed in rng.sample(range(SEEDS), MORE_EXERCISES):
        exercise = make_exercise(recipe, seed)
        profile = exercise_profile(exercise)
        expected = predictions.of(profile, frozenset(aim.skills)).score
        made.append(ChosenExercise(aim, exercise, expected, profile.minutes))
    return tuple(made)
