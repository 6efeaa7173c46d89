"""From an aim to an exercise that is just hard enough."""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache

from trainer.errors import SettingsError
from trainer.exercise import Exercise, Level, Recipe, make_exercise
from trainer.practice.aims import (
    COURSE_CHORDS,
    STEPS,
    aimed_recipe,
    can_aim,
    plain_recipe,
    remedial_recipe,
)
from trainer.practice.catalogue import kind_of, name_of
from trainer.practice.choice import LONGEST, TARGET, Predictions, Profile, nearest, profile_of
from trainer.practice.daily import Aim, is_missed
from trainer.practice.placement import TELLING, placement_recipes
from trainer.practice.rating import LearnerState

__all__ = [
    "ChosenExercise",
    "candidate_profiles",
    "choose_exercise",
    "course_skills",
    "known_chords",
]

SEEDS = 1_000_000
# At so many steps there is help.
HELPED = 2
# No song takes less.
SONG_MINUTES = 2.5
EVERYTHING = frozenset(COURSE_CHORDS)


@dataclass(frozen=True, slots=True)
class ChosenExercise:
    """An exercise of a set: what it is for, how much should come out right, how long it takes."""

    aim: Aim
    exercise: Exercise
    expected: float
    minutes: float


def course_skills(levels: Iterable[Level]) -> tuple[str, ...]:
    """The skills of the course that exercises can be aimed at, in the order of its levels."""
    found = dict.fromkeys(skill for level in levels for skill in level.skills)
    return tuple(skill for skill in found if can_aim(skill))


def known_chords(state: LearnerState) -> frozenset[str]:
    """The chords, by degree and quality, that a learner has met."""
    return frozenset(name_of(skill) for skill in state.skills if kind_of(skill) == "chord")


def candidate_profiles(skill: str) -> tuple[Profile, ...]:
    """Exercises for a skill, to weigh what it might teach; made once.

    One at each step that is no whole song; for what only a song has, one song.
    """
    recipes = [aimed_recipe(skill, step) for step in range(len(STEPS) - 1)]
    if recipes[-1].size == "song":
        recipes = recipes[-1:]
    return tuple(_prototype(recipe, step) for step, recipe in enumerate(recipes))


def choose_exercise(
    state: LearnerState, aim: Aim, now: datetime, rng: random.Random, *, longest: float = LONGEST
) -> ChosenExercise:
    """The exercise for an aim: of one at each step, the one that suits best; for what is weak there
    is a gentler one, too, and for what was mostly missed only those with help.

    It takes no more than `longest` minutes where there is one so short. Whole songs are weighed by
    one made before, for they take longest to make.
    """
    seed = rng.randrange(SEEDS)
    recipes = _recipes(state, aim, now)
    if longest < SONG_MINUTES:
        recipes = [recipe for recipe in recipes if recipe.size != "song"] or recipes
    made = {
        place: _make(recipe, seed) for place, recipe in enumerate(recipes) if recipe.size != "song"
    }
    profiles = [
        profile_of(made[place]) if place in made else _prototype(recipe, place)
        for place, recipe in enumerate(recipes)
    ]
    target = TELLING if aim.kind == "placement" else TARGET
    place, found = nearest(Predictions(state, now), profiles, aim.skills, target, longest)
    exercise = made[place] if place in made else _make(recipes[place], seed)
    return ChosenExercise(aim, exercise, found.right, profile_of(exercise).minutes)


def _recipes(state: LearnerState, aim: Aim, now: datetime) -> Sequence[Recipe]:
    if aim.kind == "placement":
        return placement_recipes()
    known = known_chords(state)
    if not aim.skills:
        return tuple(plain_recipe(step, known) for step in range(len(STEPS)))
    steps = tuple(aimed_recipe(aim.skills[0], step, known) for step in range(len(STEPS)))
    if aim.kind != "weak":
        return steps
    # Much that is known beside it would hide in the mean that what was missed is out of reach.
    most = HELPED if is_missed(state, aim.skills[0], now) else len(steps)
    return (remedial_recipe(aim.skills[0], known), *steps[:most])


@lru_cache(maxsize=1024)
def _prototype(recipe: Recipe, seed: int) -> Profile:
    return profile_of(_make(recipe, seed))


def _make(recipe: Recipe, seed: int) -> Exercise:
    """The exercise of a recipe; where no song has all that it wants, one that has less of it.

    What a learner has met is endless in its combinations; a set must not fail over a rare one.
    """
    try:
        return make_exercise(recipe, seed)
    except SettingsError:
        return make_exercise(replace(recipe, bars=None, least_chords=1, needs=()), seed)
