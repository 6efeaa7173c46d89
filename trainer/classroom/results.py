"""The result of work for a class as its learner sees it: the grade that holds, and what the teacher
changed or said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.chart import Chart
from trainer.classroom.assignments import hidden_until
from trainer.classroom.grades import WHOLE, reference_of
from trainer.store import (
    AcceptedChart,
    AssignedAttempt,
    Assignment,
    AssignmentItem,
    Override,
    StoredReport,
    read_report,
)

if TYPE_CHECKING:
    from trainer.drill import Result
    from trainer.store import Repositories

__all__ = ["ClassResult", "HandedIn", "class_result", "handed_in"]


@dataclass(frozen=True, slots=True)
class HandedIn:
    """Work that was handed in: its assignment and item, and when its result is shown, None for when
    the teacher says so."""

    assignment: Assignment
    item: AssignmentItem
    attempt: AssignedAttempt
    shown_at: datetime | None


@dataclass(frozen=True, slots=True)
class ClassResult:
    """The result of work for a class.

    `report` is the report that holds and `reference` the chart it was graded against, which is
    `accepted` if that is not None. `bars` are what the teacher changed or said about bars, and
    `whole` about all of it, None for nothing.
    """

    work: HandedIn
    report: StoredReport
    reference: Chart
    accepted: AcceptedChart | None
    bars: Sequence[Override]
    whole: Override | None

    @property
    def score(self) -> float:
        """The score in the assignment."""
        return self.work.attempt.grade.score


def handed_in(store: Repositories, attempt_id: int, now: datetime) -> HandedIn | None:
    """Where an attempt belongs in work for a class; None if it belongs nowhere."""
    attempt = store.assigned.attempt(attempt_id)
    item = store.assignments.item_by_id(attempt.item_id) if attempt is not None else None
    assignment = store.assignments.get(item.assignment_id) if item is not None else None
    if attempt is None or item is None or assignment is None:
        return None
    is_dated = assignment.results == "closed" and not assignment.shows_results(now)
    return HandedIn(assignment, item, attempt, hidden_until(assignment) if is_dated else None)


def class_result(store: Repositories, found: Result, now: datetime) -> ClassResult | None:
    """The result of an attempt in its assignment; None if it belongs to none. `found` is the
    learner's own result, so whoever asks may see it."""
    attempt_id = found.detail.record.id
    work = handed_in(store, attempt_id, now)
    if work is None:
        return None
    grade = work.attempt.grade
    charts = store.class_grades.accepted([work.item.id])
    accepted = next((each for each in charts if each.id == grade.accepted_id), None)
    report = found.report
    if grade.report is not None:
        report = read_report(grade.report, f"grade of attempt {attempt_id}")
    overrides = store.class_grades.overrides(attempt_id)
    return ClassResult(
        work,
        report,
        reference_of(found.exercise, accepted),
        accepted,
        tuple(each for each in overrides if each.bar != WHOLE),
        next((each for each in overrides if each.bar == WHOLE), None),
    )
