"""The map of the course: what each level adds, what the learner can already do, and what is next.

A level that was not tried is skipped where all of its skills are heard well already, or where a
later level is passed: levels that the course gained since then do not send anybody back. The map
says so, and every skipped level can still be taken.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from functools import cache

from trainer.exercise import Level
from trainer.grade.text_pieces import bar_ranges, join_words
from trainer.practice.catalogue import describe_skill
from trainer.practice.daily import SETTLED_FROM
from trainer.practice.rating import LearnerState, success_probability

__all__ = ["CourseMap", "LevelPlace", "Standing", "course_map", "is_heard", "next_level"]


class Standing(StrEnum):
    """How a learner stands with a level."""

    PASSED = "passed"
    TRIED = "tried"
    HEARD = "heard"
    BEHIND = "behind"
    AHEAD = "ahead"


@dataclass(frozen=True, slots=True)
class LevelPlace:
    """A level on the map.

    `adds` names, in words, the skills that the level introduces, each with whether the learner
    hears it well. `standing` of a level that was not tried is HEARD if all of its skills are heard
    well, BEHIND if a later level is passed, and AHEAD otherwise.
    """

    level: Level
    standing: Standing
    adds: tuple[tuple[str, bool], ...]

    @property
    def is_skipped(self) -> bool:
        """Whether the course goes on without it."""
        return self.standing in (Standing.HEARD, Standing.BEHIND)


@dataclass(frozen=True, slots=True)
class CourseMap:
    """The levels in order, the next one, and in words why levels before it are skipped; "" if none
    are."""

    places: tuple[LevelPlace, ...]
    next: Level
    why: str


def course_map(
    levels: Sequence[Level],
    state: LearnerState,
    now: datetime,
    *,
    passed: Collection[str] = (),
    tried: Collection[str] = (),
) -> CourseMap:
    """The map of a course. `passed` and `tried` hold the ids of levels."""
    furthest = max((level.number for level in levels if level.id in passed), default=0)
    heard = cache(lambda skill: is_heard(state, skill, now))
    places = tuple(
        LevelPlace(
            level,
            _standing(level, heard, passed, tried, furthest),
            tuple((describe_skill(each), heard(each)) for each in level.introduced),
        )
        for level in levels
    )
    following = next(
        (
            place.level
            for place in places
            if not place.is_skipped and place.standing is not Standing.PASSED
        ),
        levels[-1],
    )
    return CourseMap(places, following, " ".join(_reasons(places, following, furthest)))


def next_level(
    levels: Sequence[Level],
    state: LearnerState,
    now: datetime,
    *,
    passed: Collection[str] = (),
    tried: Collection[str] = (),
) -> Level:
    """The next level to do: the first that is neither passed nor skipped, or the last of the
    course."""
    return course_map(levels, state, now, passed=passed, tried=tried).next


def is_heard(state: LearnerState, skill: str, now: datetime) -> bool:
    """Whether a learner has met a skill and hears it well today."""
    return skill in state.skills and success_probability(state, skill, (), now) >= SETTLED_FROM


def _standing(
    level: Level,
    heard: Callable[[str], bool],
    passed: Collection[str],
    tried: Collection[str],
    furthest: int,
) -> Standing:
    if level.id in passed:
        return Standing.PASSED
    if level.id in tried:
        return Standing.TRIED
    if all(map(heard, level.skills)):
        return Standing.HEARD
    return Standing.BEHIND if level.number < furthest else Standing.AHEAD


def _reasons(places: Sequence[LevelPlace], following: Level, furthest: int) -> Iterator[str]:
    """Why levels before the next one are skipped, in a sentence for each reason."""
    before = [place for place in places if place.level.number < following.number]
    heard = [each.level.number for each in before if each.standing is Standing.HEARD]
    behind = [each.level.number for each in before if each.standing is Standing.BEHIND]
    if heard:
        teach = "teaches" if len(heard) == 1 else "teach"
        yield f"You already hear what {_named(heard)} {teach}."
    if behind:
        are = "is" if len(behind) == 1 else "are"
        yield f"You've passed level {furthest}, so {_named(behind)} {are} skipped."


def _named(numbers: Sequence[int]) -> str:
    """Levels by their numbers, as in "level 4" or "levels 14-16, 19 and 22"."""
    texts = []
    for first, last in bar_ranges(numbers):
        if last - first > 1:
            texts.append(f"{first}\N{EN DASH}{last}")
        else:
            texts += map(str, range(first, last + 1))
    return f"level{'s' * (len(numbers) > 1)} {join_words(texts)}"
