"""Levels of the course as drills meet them: which were passed, and what an attempt still lacks.

Whether an attempt passed is decided once, when it is submitted, and stored with it: later rules
change nothing that is on record.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import TYPE_CHECKING

from trainer.exercise import Exercise, Level, load_course
from trainer.practice import GradedBar, Verdict, judge

if TYPE_CHECKING:
    from trainer.store import LevelBest

__all__ = ["level_verdict", "passed_levels"]


@cache
def _levels() -> Mapping[int, Level]:
    return {level.number: level for level in load_course()}


def level_verdict(
    exercise: Exercise, bars: Sequence[GradedBar], score: float, home_shift: str | None
) -> Verdict | None:
    """A graded attempt held against the level of its exercise by the rules of today; None where the
    exercise is of no level of the course.

    Parameters as those of `trainer.practice.judge`.
    """
    level = _levels().get(exercise.level) if exercise.level is not None else None
    return judge(level, exercise, bars, score, home_shift) if level is not None else None


def passed_levels(best: Mapping[int, LevelBest]) -> frozenset[int]:
    """The numbers of the levels that were passed, of what `best_by_level` gives."""
    return frozenset(number for number, level in best.items() if level.passed)
