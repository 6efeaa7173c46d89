"""Plans of sets that are not stored yet, kept in memory between a look at a set and its beginning.

A plan is kept with all that it was made from: the learner, the day, the number of the set, the
skills of the course, those aimed at earlier in the day, and the state of the learner's skills,
which every attempt changes. It is used only while all of these are equal, whichever thread or
process changed them; else a new plan is made. The time of day is not among them, so that a set
begins in the evening as it was looked at in the morning.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from threading import Lock

from trainer.practice import Aim, LearnerState

__all__ = ["PlanBasis", "PlanCache"]


@dataclass(frozen=True, slots=True)
class PlanBasis:
    """What a plan is made from; `learner` is the learner's uid, `done` what was aimed at that day.

    What the learner confuses is known from the same attempts as `state`.
    """

    learner: str
    day: date
    number: int
    course: tuple[str, ...]
    done: frozenset[str]
    state: LearnerState


class PlanCache:
    """The last plan of each of the learners that were here last, at most `most`."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._lock = Lock()
        self._plans: OrderedDict[str, tuple[PlanBasis, tuple[Aim, ...]]] = OrderedDict()

    def get_or_make(self, basis: PlanBasis, make: Callable[[], tuple[Aim, ...]]) -> tuple[Aim, ...]:
        """The plan that was made from an equal basis, or a new one, which is then kept."""
        with self._lock:
            known = self._plans.get(basis.learner)
        if known is not None and known[0] == basis:
            return known[1]
        plan = make()
        with self._lock:
            self._plans[basis.learner] = basis, plan
            self._plans.move_to_end(basis.learner)
            while len(self._plans) > self._most:
                self._plans.popitem(last=False)
        return plan
