"""The placement test of the first session: a few short exercises that find the level.

Each is the one that is most informative: where about seven bars in ten are expected right, an
answer changes the estimate most for the time it takes. The test ends when the level is known well
enough or after `MOST_EXERCISES` exercises, some four minutes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from trainer.exercise import Level, Recipe
from trainer.practice.aims import COURSE_CHORDS, STAGES, plain_recipe
from trainer.practice.course_map import course_map, is_heard
from trainer.practice.daily import Aim
from trainer.practice.rating import LearnerState

__all__ = [
    "MOST_EXERCISES",
    "PLACEMENT_TARGET",
    "REASON",
    "describe_placement",
    "is_placed",
    "placement_aim",
    "placement_recipes",
]

MOST_EXERCISES = 5
MOST_SKIPPED = 2
PLACEMENT_TARGET = 0.7
ENOUGH_SD = 0.4
REASON = "To find your level: write what you hear and leave out what you don't."


def placement_recipes() -> tuple[Recipe, ...]:
    """The recipes of the placement test, from three chords with all help to a section with none."""
    guided = plain_recipe(0)
    section = replace(plain_recipe(1), bars=(8, 8))
    open_ = replace(plain_recipe(2), bars=(8, 12))
    busy = replace(
        open_,
        listens=2,
        features=replace(open_.features, splits=0.3, slash_chords=0.3),
        chords=plain_recipe(3).chords,
        extensions=0.2,
    )
    return guided, replace(guided, chords=section.chords, help=STAGES[2].help), section, open_, busy


def is_placed(state: LearnerState, exercises_given: int, skipped: int = 0) -> bool:
    """Whether the placement is over.

    It is when the level is known well enough, when `MOST_EXERCISES` were given, or when
    `MOST_SKIPPED` of them were skipped, which is a wish not to be placed.
    """
    return (
        skipped >= MOST_SKIPPED
        or exercises_given >= MOST_EXERCISES
        or (exercises_given >= 2 and state.general.sd < ENOUGH_SD)
    )


def placement_aim() -> Aim:
    """The aim of an exercise of the placement test."""
    return Aim("placement", (), REASON)


def describe_placement(state: LearnerState, levels: Sequence[Level], now: datetime) -> str:
    """What the placement test found and where to start, in words; "" if nothing was met."""
    met = [chord for chord in COURSE_CHORDS if f"chord {chord}" in state.skills]
    heard = [chord for chord in met if is_heard(state, f"chord {chord}", now)]
    missed = [chord for chord in met if chord not in heard]
    if not met:
        return ""
    hearing = (
        f"You hear {_listed(heard)} well" if heard else "You don't hear any chord reliably yet"
    )
    but = (
        f", but {_listed(missed)} still {'needs' if len(missed) == 1 else 'need'} work"
        if heard and missed
        else ""
    )
    found = course_map(levels, state, now)
    start = f"You start the course at level {found.next.number}: {found.next.title}."
    return " ".join(part for part in (f"{hearing}{but}.", start, found.why) if part)


def _listed(names: Sequence[str]) -> str:
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)
