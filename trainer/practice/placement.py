"""The first session: a few short exercises that find the level.

Each is the one that tells most: where about seven bars in ten are expected right, an answer moves
the estimate furthest for the time it takes. It ends when the level is known well enough or after
`MOST` exercises, some four minutes.
"""

from __future__ import annotations

from dataclasses import replace

from trainer.exercise import Recipe
from trainer.practice.aims import STEPS, plain_recipe
from trainer.practice.daily import Aim
from trainer.practice.rating import State

__all__ = ["MOST", "REASON", "TELLING", "is_placed", "placement_aim", "placement_recipes"]

MOST = 5
TELLING = 0.7
ENOUGH_SD = 0.4
REASON = "To find your level: write what you hear, leave out what you do not."


def placement_recipes() -> tuple[Recipe, ...]:
    """What is asked to find a level: from three chords with all help to a section with none."""
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
    return guided, replace(guided, chords=section.chords, help=STEPS[2].help), section, open_, busy


def is_placed(state: State, items_done: int) -> bool:
    """Whether the level is known well enough, or enough was asked."""
    return items_done >= MOST or (items_done >= 2 and state.general.sd < ENOUGH_SD)


def placement_aim() -> Aim:
    """The aim of a placement item."""
    return Aim("placement", (), REASON)
