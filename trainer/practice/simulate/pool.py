"""The exercises that simulated learners are given: real ones, made once and shared.

Generating a song for each of hundreds of thousands of answers would take hours; how the daily set
chooses among exercises is the same code as in practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from trainer.exercise import Level, Recipe, load_course, make_exercise
from trainer.practice.aims import (
    FIRST_IN_LEVELS,
    STAGES,
    aimed_recipe,
    plain_recipe,
    remedial_recipe,
)
from trainer.practice.choice import ExerciseProfile, exercise_profile
from trainer.practice.items import course_skills
from trainer.practice.placement import placement_recipes

__all__ = ["Pool", "make_pool"]

SONGS = 2
SHORT = 3


@dataclass(frozen=True, slots=True)
class Pool:
    """The profiles of all exercises that are given.

    `aimed` and `remedial` have those aimed at each skill, `mixed` those that aim at none, `levels`
    those of each level, `placement` those of the placement test. `course` are the skills that
    sets bring, in the order of the course, `skills` all that the profiles have.
    """

    aimed: dict[str, tuple[ExerciseProfile, ...]]
    remedial: dict[str, tuple[ExerciseProfile, ...]]
    mixed: tuple[ExerciseProfile, ...]
    levels: tuple[tuple[ExerciseProfile, ...], ...]
    placement: tuple[ExerciseProfile, ...]
    course: tuple[str, ...]
    skills: frozenset[str]


@cache
def make_pool(seed: int = 0) -> Pool:
    """The exercises of all skills of the course, at every stage; made once in a process."""
    levels = load_course()
    course = tuple(skill for skill in course_skills(levels) if skill not in FIRST_IN_LEVELS)
    aimed = {
        skill: tuple(
            profile
            for stage in range(len(STAGES))
            for profile in _made(aimed_recipe(skill, stage), seed)
        )
        for skill in course
    }
    remedial = {skill: _made(remedial_recipe(skill), seed) for skill in course}
    mixed = tuple(p for stage in range(len(STAGES)) for p in _made(plain_recipe(stage), seed))
    by_level = tuple(_made(level.recipe, seed, level) for level in levels)
    first = tuple(p for recipe in placement_recipes() for p in _made(recipe, seed))
    every = (*(p for each in aimed.values() for p in each), *mixed, *first)
    every += tuple(p for each in (*remedial.values(), *by_level) for p in each)
    skills = frozenset(skill for p in every for (_, has), _ in p.bars for skill in has)
    return Pool(aimed, remedial, mixed, by_level, first, course, skills)


def _made(recipe: Recipe, seed: int, level: Level | None = None) -> tuple[ExerciseProfile, ...]:
    count = SONGS if recipe.size == "song" else SHORT
    return tuple(
        exercise_profile(make_exercise(recipe, 1000 * seed + number, level))
        for number in range(count)
    )
