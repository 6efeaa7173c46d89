"""What attempts were for, in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from trainer.exercise import EXCERPT
from trainer.practice import is_speed_test
from trainer.store import AttemptRecord, ExerciseSource, Learner

if TYPE_CHECKING:
    from trainer.store import Repositories

__all__ = ["BARS", "RECIPE", "SPEED_TEST", "attempt_kind", "exercise_kinds"]

SPEED_TEST, RECIPE, BARS = "speed test", "recipe", "bars practised"


def exercise_kinds(store: Repositories, learner: Learner) -> Mapping[str, str]:
    """What the exercises were that a learner wrote and that are of no level, by their ids.

    Kinds are "song", "daily set", "finding your level", "speed test",
    "bars practised" and "recipe".
    """
    return {key: _kind(source) for key, source in store.sets.sources(learner).items()}


def attempt_kind(attempt: AttemptRecord, kinds: Mapping[str, str]) -> str:
    """What an attempt was for: "level 6", or the kind of its exercise in `kinds`."""
    level = attempt.level
    return kinds.get(attempt.exercise_id, RECIPE) if level is None else f"level {level}"


def _kind(source: ExerciseSource) -> str:
    if source.origin == "song":
        return "song"
    if source.in_set:
        return "finding your level" if source.in_placement else "daily set"
    if EXCERPT in source.recipe:
        return BARS
    return SPEED_TEST if is_speed_test(source.recipe) else RECIPE
