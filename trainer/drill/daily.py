"""The day's practice of one learner: placement first, then one set after another.

A set is stored when its first exercise is begun, and kept: another window, or the same one tomorrow
morning, finds it as it was left. Until then it can be looked at (`plan`), which stores nothing: the
same state on the same day gives the same set, and the plan is kept in memory until the set begins
(`plans`). An item's exercise is made when its turn comes.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.drill.drills import Drill, Drills
from trainer.drill.plans import PlanBasis, PlanCache
from trainer.drill.ratings import rating_state
from trainer.exercise import Level
from trainer.practice import (
    MORE,
    RECENT_CONFUSIONS,
    Aim,
    ChosenExercise,
    LearnerState,
    candidate_profiles,
    choose_exercise,
    course_skills,
    describe_confusions,
    is_placed,
    longest_minutes,
    more_exercises,
    placement_aim,
    plan_set,
)
from trainer.store import SetItem

if TYPE_CHECKING:
    from trainer.store import Repositories

__all__ = ["DailySets", "NextItem"]

OPEN = "open"
PLACEMENT = "placement"
# The plans of this many learners are kept: those who looked at their day most recently.
_PLANS = PlanCache(most=256)


@dataclass(frozen=True, slots=True)
class NextItem:
    """An item whose turn has come, with the drill that was begun for it. `total` is how many items
    its set has."""

    item: SetItem
    drill: Drill
    total: int


@dataclass(frozen=True, slots=True)
class _PresentSet:
    """The present set: its items if it is stored (`aims` is then empty), else what it aims at."""

    number: int
    items: tuple[SetItem, ...] = ()
    aims: tuple[Aim, ...] = ()


class DailySets:
    """The sets of one learner's day, which the drills say.

    Parameters: `course` holds the levels in order.
    """

    def __init__(self, drills: Drills, course: Sequence[Level]) -> None:
        self._drills = drills
        self._store, self._learner = drills.store, drills.learner
        self._skills = course_skills(course)

    @property
    def items(self) -> tuple[SetItem, ...]:
        """The stored items of the day's sets, including those done or skipped."""
        return self._store.sets.of_day(self._learner, self._drills.today)

    def plan(self, stored: Sequence[SetItem] | None = None) -> tuple[SetItem, ...]:
        """The items of the present set as they are stored, or as they would be if it began now.

        Nothing is stored; an item that is not stored has the id 0. `stored` are the day's `items`
        if they have been read already.
        """
        plan = self._present(self.items if stored is None else stored)
        return plan.items or self._as_items(plan)

    def start(self) -> tuple[SetItem, ...]:
        """The items of the present set, stored now if they were not."""
        return self._stored(self._present(self.items))

    def another(self) -> tuple[SetItem, ...]:
        """A further set, once the present one has nothing open; else the present one."""
        present = self.start()
        if any(item.status == OPEN for item in present):
            return present
        return self._stored(self._new_set(self.items))

    def more_of(self, level: Level, skill: str) -> tuple[SetItem, ...]:
        """Ten short exercises around one skill of a level, as a set that comes before what is open.

        The day's own set waits meanwhile. If such a set has begun already, it is returned. Raises
        SettingsError for a skill that the level does not teach.
        """
        stored = self.items
        begun = [item for item in _open_more(stored) if item.skills == (skill,)]
        if begun:
            return tuple(item for item in stored if item.number == begun[-1].number)
        number, now = _free_number(stored), self._drills.clock()
        made = more_exercises(self._state(), level, skill, now, self._rng(number))

        def store_all(store: Repositories) -> tuple[SetItem, ...]:
            aims = [each.aim for each in made]
            day = self._drills.today
            items = store.sets.add(self._learner, day, aims, now, number - 1)
            return tuple(
                store.sets.give(
                    item,
                    store.exercises.keep(self._learner, each.exercise),
                    each.expected,
                    each.minutes,
                )
                for item, each in zip(items, made, strict=True)
            )

        return self._store.transact(store_all)

    def next(self) -> NextItem | None:
        """Begin the first open item of the present set; None when the set is done."""
        present = self.start()
        waiting = [item for item in present if item.status == OPEN]
        if not waiting:
            return None
        item = waiting[0]
        made = self._choose(item, present) if item.exercise_id is None else None
        return self._store.transact(lambda store: self._begin(store, item, made, len(present)))

    def _begin(
        self, store: Repositories, item: SetItem, made: ChosenExercise | None, total: int
    ) -> NextItem:
        """Begin an item, with the exercise made for it unless it has one already."""
        if made is not None:
            kept = store.exercises.keep(self._learner, made.exercise)
            item = store.sets.give(item, kept, made.expected, made.minutes)
        assert item.exercise_id is not None
        drill = self._drills.within(store).begin_known(item.exercise_id)
        assert drill is not None
        return NextItem(item, drill, total)

    def skip(self, item: SetItem) -> None:
        """Skip an item. Its skills are set again another time."""
        self._store.sets.skip(item, self._drills.clock())

    def skip_placement(self) -> tuple[SetItem, ...]:
        """Skip the placement and return the day's first set, from the beginning of the course."""
        present = self.start()
        if present[-1].kind != PLACEMENT:
            return present
        for item in present:
            self.skip(item)
        return self._stored(self._new_set(self.items))

    def _present(self, stored: Sequence[SetItem]) -> _PresentSet:
        """The present set, given the stored items of the day: more of one skill while any of it is
        open, else the last of the day's own. When a placement is over, the day's first set follows
        it."""
        more = _open_more(stored)
        if more:
            number = more[-1].number
            return _PresentSet(number, tuple(item for item in stored if item.number == number))
        items = tuple(item for item in stored if item.kind != MORE)
        if not items:
            return self._new_set(stored)
        last = items[-1]
        present = tuple(item for item in items if item.number == last.number)
        if last.kind != PLACEMENT or any(item.status == OPEN for item in present):
            return _PresentSet(last.number, present)
        if self._is_placed(present):
            return self._new_set(stored)
        # The placement goes on: one more item in the same set.
        return _PresentSet(last.number, present, (placement_aim(),))

    def _new_set(self, stored: Sequence[SetItem]) -> _PresentSet:
        """The set that follows the stored items of the day."""
        number = _free_number(stored)
        return _PresentSet(number, aims=self._aims(number, stored))

    def _stored(self, plan: _PresentSet) -> tuple[SetItem, ...]:
        now = self._drills.clock()
        if not plan.aims:
            return plan.items
        if plan.items:
            self._store.sets.extend(plan.items[-1], plan.aims[0], now)
            return tuple(item for item in self.items if item.number == plan.number)
        day = self._drills.today
        return self._store.sets.add(self._learner, day, plan.aims, now, plan.number - 1)

    def _as_items(self, plan: _PresentSet) -> tuple[SetItem, ...]:
        """The items that a set would have if it were stored."""
        now = self._drills.clock()
        return tuple(
            SetItem(
                id=0,
                learner_id=self._learner.id,
                day=self._drills.today,
                number=plan.number,
                position=position,
                kind=aim.kind,
                skills=aim.skills,
                reason=aim.reason,
                status=OPEN,
                exercise_id=None,
                expected=None,
                minutes=None,
                changed_at=now,
            )
            for position, aim in enumerate(plan.aims, 1)
        )

    def _is_placed(self, items: Sequence[SetItem]) -> bool:
        """Whether a placement is over: the level is known, or two of its items were skipped."""
        skipped = sum(item.status == "skipped" for item in items)
        return is_placed(self._state(), len(items), skipped)

    def _state(self) -> LearnerState:
        return rating_state(self._store, self._learner)

    def _rng(self, *of: int) -> random.Random:
        """Random numbers that are the same for the same learner, day and place, so that looking at
        a set changes nothing.
        """
        return random.Random(f"{self._learner.uid} {self._drills.today} {of}")

    def _aims(self, number: int, stored: Sequence[SetItem]) -> tuple[Aim, ...]:
        """What set `number` of the day aims at, after the stored items of the day."""
        state = self._state()
        if not state.attempts and not self._store.sets.had_placement(self._learner):
            return (placement_aim(),)
        basis = PlanBasis(
            learner=self._learner.uid,
            day=self._drills.today,
            number=number,
            course=self._skills,
            done=frozenset(skill for item in stored for skill in item.skills),
            state=state,
        )
        return _PLANS.get_or_make(basis, lambda: self._plan(basis))

    def _plan(self, basis: PlanBasis) -> tuple[Aim, ...]:
        """Plan a set."""
        confusions = self._store.progress.confusions(self._learner, basis.day - RECENT_CONFUSIONS)
        return plan_set(
            basis.state,
            basis.course,
            candidate_profiles,
            self._drills.clock(),
            self._rng(basis.number),
            done=basis.done,
            explanations=describe_confusions(
                (each.played, each.written, each.chords) for each in confusions
            ),
        )

    def _choose(self, item: SetItem, present: Sequence[SetItem]) -> ChosenExercise:
        """Make the exercise of an item."""
        aim = Aim(item.kind, item.skills, item.reason)
        spent = sum(each.minutes or 0.0 for each in present if each.status == "done")
        waiting = sum(each.status == OPEN for each in present)
        longest = longest_minutes(spent, waiting)
        rng = self._rng(item.number, item.position)
        return choose_exercise(self._state(), aim, self._drills.clock(), rng, longest=longest)


def _open_more(items: Sequence[SetItem]) -> tuple[SetItem, ...]:
    """What is open of the sets that are more of one skill."""
    return tuple(item for item in items if item.kind == MORE and item.status == OPEN)


def _free_number(items: Sequence[SetItem]) -> int:
    """The number of the day's next set, given the stored items of the day."""
    return max((item.number for item in items), default=0) + 1
