"""What attempts show about a learner's skills: updated after each attempt, or worked out again from
all of them.

Each attempt updates the ratings within the transaction that stores it, so attempts count in the
order in which they were stored, and working through all of them again gives what is stored. That is
done when the stored ratings come from another version of the model
(`trainer.practice.MODEL_VERSION`). `totals` sums up the days of a period.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from trainer.practice import (
    Conditions,
    LearnerState,
    Rating,
    SpeedResult,
    Tally,
    attempt_evidence,
    attempt_speed,
    attempt_tally,
    rating,
    update_state,
)
from trainer.store import AttemptRecord, Learner, RatingUpdate, StoredAttempt

if TYPE_CHECKING:
    from trainer.store import DayRecord, Repositories

__all__ = [
    "Totals",
    "add_attempt",
    "bring_all_ratings_up",
    "bring_ratings_up",
    "let_results_count",
    "rating_state",
    "rebuild",
    "totals",
]


def rating_state(store: Repositories, learner: Learner) -> LearnerState:
    """All that is known of a learner's skills now.

    This stores nothing. If the store has no ratings of the present model, the state is worked out
    from the attempts each time, until `bring_ratings_up` or the next attempt stores it.
    """
    known = store.ratings.state(learner)
    return _Replay.of(store, learner).state if known is None else known


def bring_ratings_up(store: Repositories, learner: Learner) -> bool:
    """Store a learner's ratings if another model made the stored ones; returns whether it did."""
    if store.ratings.state(learner) is not None or not store.attempts.count(learner):
        return False
    rebuild(store, learner)
    return True


def bring_all_ratings_up(store: Repositories) -> int:
    """Store the ratings of every learner whose stored ones another model made; how many they were.

    Where nobody's are, this is one query, however many learners there are.
    """
    return sum(bring_ratings_up(store, each) for each in store.ratings.outdated())


def rebuild(store: Repositories, learner: Learner) -> int:
    """Work out ratings and sums again from the attempts alone, in one transaction. Returns how many
    attempts there are.

    Parameters: `store` is the store, or the repositories of a transaction under way.
    """
    with store.transaction() as within:
        within.learners.lock(learner)
        within.ratings.clear(learner)
        within.progress.clear(learner)
        replay = _Replay.of(within, learner)
        within.ratings.save(learner, replay.update())
        replay.store_sums(within, learner)
    return replay.state.attempts


def add_attempt(store: Repositories, learner: Learner, attempt: StoredAttempt) -> None:
    """Let an attempt that was just stored change the ratings and sums, in its transaction."""
    known = store.ratings.state(learner)
    if known is None:
        rebuild(store, learner)
        return
    replay = _Replay(known)
    replay.add(attempt)
    store.ratings.save(learner, replay.update())
    replay.store_sums(store, learner)


def let_results_count(store: Repositories, learner: Learner, now: datetime) -> None:
    """Let attempts whose results were hidden from the learner until now change the ratings and
    sums. Until then nothing of them is in either, for both would tell how they went."""

    def work(within: Repositories) -> None:
        if within.attempts.release_due(learner, now):
            rebuild(within, learner)

    if store.attempts.hidden(learner, now):
        store.transact(work)


def conditions_of(record: AttemptRecord) -> Conditions:
    """How an attempt on record was made."""
    return Conditions(
        at=record.finished_at,
        listens=record.listens,
        paused=record.paused,
        tempo_ratio=record.tempo_ratio,
        seen=record.seen,
        home_shift=record.home_shift,
    )


class _Replay:
    """A state of ratings, and what attempts change in it."""

    def __init__(self, state: LearnerState) -> None:
        self.state = state
        self._skills: set[str] = set()
        self._days: dict[tuple[date, str], Rating] = {}
        self._speeds: list[tuple[int, SpeedResult]] = []
        self._tallies: dict[date, Tally] = {}

    @classmethod
    def of(cls, store: Repositories, learner: Learner) -> _Replay:
        """All attempts of a learner, starting with nothing known."""
        replay = cls(LearnerState.fresh())
        for attempt in store.attempts.log(learner):
            replay.add(attempt)
        return replay

    def add(self, attempt: StoredAttempt) -> None:
        """Update the state with one attempt."""
        record, exercise = attempt.record, attempt.exercise.exercise
        conditions = conditions_of(record)
        evidence = attempt_evidence(exercise, attempt.bars, conditions)
        self.state = update_state(self.state, evidence)
        shown = {skill for bar in evidence.bars for skill, _ in bar.shown}
        self._skills |= shown
        for skill in shown:
            self._days[record.day, skill] = rating(self.state, skill)
        result = attempt_speed(exercise, attempt.bars, conditions)
        if result is not None:
            self._speeds.append((record.id, result))
        tally = self._tallies.setdefault(record.day, Tally())
        tally.add(attempt_tally(exercise, attempt.bars, conditions))

    def update(self) -> RatingUpdate:
        """The ratings that the attempts changed."""
        return RatingUpdate(self.state, frozenset(self._skills), self._days, self._speeds)

    def store_sums(self, store: Repositories, learner: Learner) -> None:
        """Add the sums of the attempts to those of their days."""
        for day, tally in self._tallies.items():
            store.progress.add(learner, day, tally)


@dataclass(frozen=True, slots=True)
class Totals:
    """A period summed up. Shares are 0 to 1; None if nothing is known.

    `score` is the mean of the attempts, `first_pass` the share of them that were written in one
    pass, `lag_beats` the mean of the days that have a lag.
    """

    exercises: int
    days: int
    minutes: float
    score: float | None
    first_pass: float | None
    lag_beats: float | None


def totals(days: Sequence[DayRecord]) -> Totals:
    """The days of a period summed up."""
    attempts = sum(day.attempts for day in days)
    return Totals(
        attempts,
        len(days),
        sum(day.minutes for day in days),
        sum(day.score * day.attempts for day in days) / attempts if attempts else None,
        sum(day.first_passes for day in days) / attempts if attempts else None,
        _mean(day.lag_beats for day in days),
    )


def _mean(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None
