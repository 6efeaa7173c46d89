"""The exercises that simulated learners are given: real ones, made once and shared.

Generating a song for each of hundreds of thousands of answers would take hours; how the daily set
chooses among exercises is the same code as in practice.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.exercise import Level, Recipe, load_course, make_exercise
from trainer.practice.aims import STEPS, aimed_recipe, plain_recipe, remedial_recipe
from trainer.practice.choice import Profile, profile_of
from trainer.practice.placement import placement_recipes

__all__ = ["Pool", "make_pool"]

SONGS = 2
SHORT = 3


@dataclass(frozen=True, slots=True)
class Pool:
    """Profiles: aimed at each skill, the same gently, mixed, of each level, for placement; and all
    skills in them.

    `course` are the skills in the order of the course.
    """

    aimed: dict[str, tuple[Profile, ...]]
    gentle: dict[str, tuple[Profile, ...]]
    mixed: tuple[Profile, ...]
    levels: tuple[tuple[Profile, ...], ...]
    placement: tuple[Profile, ...]
    course: tuple[str, ...]
    skills: frozenset[str]


def make_pool(seed: int = 0) -> Pool:
    """Make the exercises of all skills of the course, at every step."""
    levels = load_course()
    course = tuple(dict.fromkeys(skill for level in levels for skill in level.skills))
    aimed = {
        skill: tuple(
            profile
            for step in range(len(STEPS))
            for profile in _made(aimed_recipe(skill, step), seed)
        )
        for skill in course
    }
    gentle = {skill: _made(remedial_recipe(skill), seed) for skill in course}
    mixed = tuple(p for step in range(len(STEPS)) for p in _made(plain_recipe(step), seed))
    by_level = tuple(_made(level.recipe, seed, level) for level in levels)
    first = tuple(p for recipe in placement_recipes() for p in _made(recipe, seed))
    every = (*(p for each in aimed.values() for p in each), *mixed, *first)
    every += tuple(p for each in (*gentle.values(), *by_level) for p in each)
    skills = frozenset(skill for p in every for (_, has), _ in p.bars for skill in has)
    return Pool(aimed, gentle, mixed, by_level, first, course, skills)


def _made(recipe: Recipe, seed: int, level: Level | None = None) -> tuple[Profile, ...]:
    count = SONGS if recipe.size == "song" else SHORT
    return tuple(
        profile_of(make_exercise(recipe, 1000 * seed + number, level)) for number in range(count)
    )
