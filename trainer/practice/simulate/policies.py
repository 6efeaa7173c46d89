"""Policies, which decide the next exercise of a simulated learner.

daily set       what the trainer does: placement, then sets
random          any exercise of the pool
fixed order     the course from its first level to its last, as many exercises on each
weakest first   an exercise aimed at the skill rated lowest, at any step
"""

from __future__ import annotations

import random
from datetime import datetime
from typing import Protocol

from trainer.practice.choice import ExerciseProfile, Predictions, best_profile
from trainer.practice.daily import Aim, is_missed, plan_set
from trainer.practice.items import HELPED_STAGES
from trainer.practice.placement import PLACEMENT_TARGET, is_placed
from trainer.practice.rating import LearnerState, rating
from trainer.practice.simulate.pool import Pool

__all__ = ["POLICIES", "Policy"]


class Policy(Protocol):
    """Chooses exercise after exercise for one learner."""

    def __init__(self, pool: Pool, rng: random.Random, days: int) -> None: ...

    def choose(self, state: LearnerState, day: int, now: datetime, share: float) -> ExerciseProfile:
        """The next exercise at `now` on a day, when a share (0 to 1) of its time is used up."""
        ...


class DailySetPolicy:
    """Placement, then daily sets."""

    def __init__(self, pool: Pool, rng: random.Random, days: int) -> None:
        del days
        self.pool, self.rng = pool, rng
        self.placed = 0
        self.is_placing = True
        self.day = -1
        self.aims: list[Aim] = []
        self.done: set[str] = set()

    def choose(self, state: LearnerState, day: int, now: datetime, share: float) -> ExerciseProfile:
        """The next exercise."""
        del share
        if self.is_placing and not is_placed(state, self.placed):
            self.placed += 1
            index, _ = best_profile(
                Predictions(state, now), self.pool.placement, (), PLACEMENT_TARGET
            )
            return self.pool.placement[index]
        self.is_placing = False
        if day != self.day:
            self.day, self.aims, self.done = day, [], set()
        if not self.aims:
            done = frozenset(self.done)
            planned = plan_set(
                state, self.pool.course, self.pool.aimed.__getitem__, now, self.rng, done=done
            )
            self.aims = list(planned)
        aim = self.aims.pop(0)
        self.done |= set(aim.skills)
        candidates = self.pool.aimed[aim.skills[0]] if aim.skills else self.pool.mixed
        if aim.kind == "weak":
            remedial = self.pool.remedial[aim.skills[0]]
            most = (
                HELPED_STAGES * len(remedial)
                if is_missed(state, aim.skills[0], now)
                else len(candidates)
            )
            candidates = (*remedial, *candidates[:most])
        index, _ = best_profile(Predictions(state, now), candidates, aim.skills)
        return candidates[index]


class RandomPolicy:
    """Any exercise."""

    def __init__(self, pool: Pool, rng: random.Random, days: int) -> None:
        del days
        self.rng = rng
        self.all = [profile for each in pool.aimed.values() for profile in each]

    def choose(self, state: LearnerState, day: int, now: datetime, share: float) -> ExerciseProfile:
        """The next exercise."""
        del state, day, now, share
        return self.rng.choice(self.all)


class FixedOrderPolicy:
    """The course from end to end."""

    def __init__(self, pool: Pool, rng: random.Random, days: int) -> None:
        self.pool, self.rng, self.days = pool, rng, days

    def choose(self, state: LearnerState, day: int, now: datetime, share: float) -> ExerciseProfile:
        """The next exercise."""
        del state, now
        levels = self.pool.levels
        at = int((day + min(share, 0.999)) / self.days * len(levels))
        return self.rng.choice(levels[at])


class WeakestFirstPolicy:
    """Whatever is rated lowest."""

    def __init__(self, pool: Pool, rng: random.Random, days: int) -> None:
        del days
        self.pool, self.rng = pool, rng

    def choose(self, state: LearnerState, day: int, now: datetime, share: float) -> ExerciseProfile:
        """The next exercise."""
        del day, share
        weakest = min(self.pool.course, key=lambda skill: rating(state, skill, now).mean)
        return self.rng.choice(self.pool.aimed[weakest])


POLICIES: dict[str, type[Policy]] = {
    "daily set": DailySetPolicy,
    "random": RandomPolicy,
    "fixed order": FixedOrderPolicy,
    "weakest first": WeakestFirstPolicy,
}
