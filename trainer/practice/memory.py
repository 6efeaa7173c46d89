"""When a skill should be reviewed: FSRS with one card for each skill.

An attempt is one review of every skill it shows, graded by the mean credit of the skill's bars
(`recall_for`). A skill that is not due and was seen within a day is not reviewed again by another
good attempt, which says nothing about remembering it. Times are arguments; nothing is random.
Source: the `fsrs` library with its default parameters; what it returns for a known series is
checked in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from enum import IntEnum
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fsrs import Scheduler

__all__ = ["Memory", "Recall", "recall_for", "retrievability", "review"]

REPEAT = timedelta(hours=20)


class Recall(IntEnum):
    """How well a skill was recalled; the numbers are FSRS's."""

    AGAIN = 1
    HARD = 2
    GOOD = 3
    EASY = 4


@dataclass(frozen=True, slots=True)
class Memory:
    """The memory of a skill as FSRS's card has it.

    `state`, `step` and `difficulty` are FSRS's own; after `stability_days` retrievability has
    fallen to 90%. `due` and `last_at` are moments in UTC.
    """

    state: int
    step: int | None
    stability_days: float
    difficulty: float
    due: datetime
    last_at: datetime


@lru_cache(maxsize=1)
def _scheduler() -> Scheduler:
    from fsrs import Scheduler

    return Scheduler(enable_fuzzing=False)


def recall_for(credit: float, bars: int) -> Recall:
    """The recall for a mean credit (0 to 1) over a number of bars.

    Common practice, no source: half of the bars wrong is not recalled, four in five right is good,
    and all of at least six right is easy.
    """
    if credit < 0.5:
        return Recall.AGAIN
    if credit < 0.8:
        return Recall.HARD
    return Recall.EASY if credit >= 1 and bars >= 6 else Recall.GOOD


def review(memory: Memory | None, recall: Recall, at: datetime) -> Memory:
    """The card after a review at a moment (aware, UTC); a clock set back counts as no time."""
    from fsrs import Card, Rating, State

    if memory is None:
        card = Card(card_id=0, due=at)
    else:
        at = max(at, memory.last_at)
        if recall >= Recall.GOOD and memory.due > at and at - memory.last_at < REPEAT:
            return memory
        card = Card(
            card_id=0,
            state=State(memory.state),
            step=memory.step,
            stability=memory.stability_days,
            difficulty=memory.difficulty,
            due=memory.due,
            last_review=memory.last_at,
        )
    after, _ = _scheduler().review_card(card, Rating(recall), at)
    assert after.stability is not None
    assert after.difficulty is not None
    return Memory(int(after.state), after.step, after.stability, after.difficulty, after.due, at)


def retrievability(memory: Memory, now: datetime) -> float:
    """FSRS's retrievability, by whole days: the probability of recall, 0 to 1."""
    from fsrs import Card, State

    card = Card(
        card_id=0,
        state=State(memory.state),
        step=memory.step,
        stability=memory.stability_days,
        difficulty=memory.difficulty,
        due=memory.due,
        last_review=memory.last_at,
    )
    return float(_scheduler().get_card_retrievability(card, max(now, memory.last_at)))
