"""The day's practice of one learner: placement first, then one set after another.

A set is planned once, when it is first looked at, and kept: another window, or the same one
tomorrow morning, finds it as it was left. An item's exercise is made when its turn comes.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from trainer.exercise import Exercise, Level, exercise_from_json, exercise_to_json
from trainer.practice import (
    SET_MINUTES,
    Aim,
    LearnerState,
    candidate_profiles,
    choose_exercise,
    course_skills,
    describe_confusions,
    is_placed,
    placement_aim,
    plan_set,
)
from trainer.store.records import Learner, SetItem

if TYPE_CHECKING:
    from trainer.store.store import Store

__all__ = ["Given", "Today"]

OPEN = "open"
PLACEMENT = "placement"
# So many items skipped are a wish not to be placed.
SKIPS = 2
# An item may take so much more than its even share of the set's time; and so many minutes always.
STRETCH = 1.5
# What was confused longer ago explains nothing of today.
RECENT = timedelta(days=90)
SHORTEST = 1.6


@dataclass(frozen=True, slots=True)
class Given:
    """An item whose turn has come, with its exercise. `total` is how many its set has."""

    item: SetItem
    exercise: Exercise
    total: int


class Today:
    """One learner's day.

    Parameters
    ----------
    course : the levels, in order.
    day : the learner's own calendar day.
    rng : what the order of a set and the songs are drawn with.
    """

    def __init__(
        self,
        store: Store,
        learner: Learner,
        course: Sequence[Level],
        day: date,
        rng: random.Random,
    ) -> None:
        self._store, self._learner, self._day, self._rng = store, learner, day, rng
        self._skills = course_skills(course)

    @property
    def items(self) -> tuple[SetItem, ...]:
        """What was planned for the day so far, done and skipped ones too."""
        return self._store.sets.of_day(self._learner, self._day)

    def plan(self, now: datetime) -> tuple[SetItem, ...]:
        """The items of the present set; planned now if the day has none yet.

        Where a placement is over, the day's first set follows it.
        """
        items = self.items
        if not items:
            return self._begin(now, after=0)
        last = items[-1]
        present = tuple(item for item in items if item.number == last.number)
        if last.kind != PLACEMENT or any(item.status == OPEN for item in present):
            return present
        if self._is_placed(present):
            return self._begin(now, after=last.number)
        self._store.sets.extend(last, placement_aim(), now)
        return tuple(item for item in self.items if item.number == last.number)

    def another(self, now: datetime) -> tuple[SetItem, ...]:
        """A further set, once the present one has nothing open; else the present one."""
        present = self.plan(now)
        if any(item.status == OPEN for item in present):
            return present
        return self._begin(now, after=present[-1].number)

    def next(self, now: datetime) -> Given | None:
        """The first open item of the present set with its exercise; None when it is done."""
        present = self.plan(now)
        waiting = [item for item in present if item.status == OPEN]
        if not waiting:
            return None
        item = waiting[0]
        if item.exercise_id is None:
            item = self._give(item, present, now)
        kept = self._store.exercises.get(item.exercise_id or "")
        assert kept is not None
        return Given(item, exercise_from_json(kept.data), len(present))

    def skip(self, item: SetItem, now: datetime) -> None:
        """Leave an item out; what it aimed at comes back another time."""
        self._store.sets.skip(item, now)

    def skip_placement(self, now: datetime) -> tuple[SetItem, ...]:
        """Do without being placed: the day's first set, from the beginning of the course."""
        present = self.plan(now)
        if present[-1].kind != PLACEMENT:
            return present
        for item in present:
            self._store.sets.skip(item, now)
        return self._begin(now, after=present[-1].number)

    def _is_placed(self, items: Sequence[SetItem]) -> bool:
        """Whether a placement is over: the level is known, or two of its items were skipped."""
        skipped = sum(item.status == "skipped" for item in items)
        return skipped >= SKIPS or is_placed(self._state(), len(items))

    def _state(self) -> LearnerState:
        return self._store.ratings.state(self._learner)

    def _begin(self, now: datetime, after: int) -> tuple[SetItem, ...]:
        state = self._state()
        if not state.attempts and not self._store.sets.had_placement(self._learner):
            return self._store.sets.add(self._learner, self._day, [placement_aim()], now, after)
        confusions = self._store.progress.confusions(self._learner, self._day - RECENT)
        why = describe_confusions((each.played, each.written, each.chords) for each in confusions)
        done = frozenset(skill for item in self.items for skill in item.skills)
        aims: tuple[Aim, ...] = plan_set(
            state, self._skills, candidate_profiles, now, self._rng, done=done, explanations=why
        )
        return self._store.sets.add(self._learner, self._day, aims, now, after)

    def _give(self, item: SetItem, present: Sequence[SetItem], now: datetime) -> SetItem:
        aim = Aim(item.kind, item.skills, item.reason)
        spent = sum(each.minutes or 0.0 for each in present if each.status == "done")
        waiting = sum(each.status == OPEN for each in present)
        longest = max(SHORTEST, STRETCH * (SET_MINUTES - spent) / waiting)
        made = choose_exercise(self._state(), aim, now, self._rng, longest=longest)
        kept = self._store.exercises.keep(exercise_to_json(made.exercise), "generated")
        return self._store.sets.give(item, kept, made.expected, made.minutes)
