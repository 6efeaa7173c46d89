"""Attempts on record, read back with their exercise and their answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.drill.levels import level_verdict
from trainer.exercise import Answer, Exercise, read_answer
from trainer.practice import Verdict, disqualification, is_speed_test
from trainer.store import AttemptDetail, AttemptRecord, Learner

if TYPE_CHECKING:
    from trainer.store import Repositories, StoredReport

__all__ = ["Result", "find_result", "why_no_speed_test"]

MOST_ID = 2**63


@dataclass(frozen=True, slots=True)
class Result:
    """An attempt with all that belongs to it, its answer read again from the text."""

    detail: AttemptDetail
    answer: Answer
    report: StoredReport

    @property
    def exercise(self) -> Exercise:
        """The exercise that was answered."""
        return self.detail.exercise.exercise

    @property
    def is_speed_test(self) -> bool:
        """Whether it was an attempt at the speed self-test."""
        return is_speed_test(self.exercise.recipe)

    @property
    def why_no_test(self) -> str:
        """Why it does not count as a speed self-test, in words; "" if it does."""
        return why_no_speed_test(self.detail.record)

    @property
    def passed(self) -> bool | None:
        """Whether it passed its level by the rules of its time; None if it is of no level, or does
        not count."""
        record = self.detail.record
        return record.passed if record.counts else None

    @property
    def verdict(self) -> Verdict | None:
        """The attempt held against its level by the rules of today; None if it is of no level."""
        record = self.detail.record
        return level_verdict(self.exercise, self.detail.bars, record.score, record.home_shift)


def why_no_speed_test(attempt: AttemptRecord) -> str:
    """Why an attempt at the speed self-test does not count as one, in words; "" if it does."""
    return disqualification(
        listens=attempt.listens,
        paused=attempt.paused,
        tempo_ratio=attempt.tempo_ratio,
        is_timed=attempt.lag_beats is not None,
        seen=attempt.seen,
    )


def find_result(store: Repositories, learner: Learner, attempt_id: int) -> Result | None:
    """A learner's attempt of that id; None if there is none of theirs.

    Raises
    ------
    StoreBroken
        If what is stored of it cannot be read.
    """
    from trainer.store import read_report

    detail = store.attempts.get(attempt_id) if 0 < attempt_id < MOST_ID else None
    if detail is None or detail.record.learner_id != learner.id:
        return None
    report = read_report(detail.report, f"attempt {attempt_id}")
    return Result(detail, read_answer(detail.exercise.exercise, detail.answer_text), report)
