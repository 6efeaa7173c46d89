"""What a teacher changes of grades: single bars, a second right chart, the scheme as a whole.

Every change keeps the grade there was before (`EarlierGrade`) and is logged with scores before and
after. What a change of the scheme or an accepted chart would do is shown first (`Change`). Grades
are worked out before the transaction that stores them; answers that came in meanwhile are graded in
it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from trainer.chart import parse
from trainer.classroom.assignments import NOT_HERE, Assignments, subject_of, weights_of
from trainer.classroom.grades import WHOLE, final_score, reference_of, regrade_answer
from trainer.errors import AssignmentError, ClassNotFound
from trainer.exercise import Exercise, exercise_from_json, header_for, read_answer
from trainer.grade import weights_from
from trainer.store import (
    AcceptedChart,
    Assignment,
    AssignmentItem,
    AttemptGrade,
    GradedAnswer,
    Override,
    storable,
)

if TYPE_CHECKING:
    from trainer.store import Account, Learner, Repositories

__all__ = ["Change", "Regrading"]

LONGEST_COMMENT = 1000
# What the log says of a change: before and after.
Told = tuple[Mapping[str, Any], Mapping[str, Any]]
# Scores that differ by less are the same.
SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Change:
    """What a change does to one attempt: its grade before and after."""

    attempt_id: int
    account_id: int
    item_id: int
    before: AttemptGrade
    after: AttemptGrade

    @property
    def is_none(self) -> bool:
        """Whether nothing changes."""
        is_same = abs(self.before.score - self.after.score) < SAME
        return (
            is_same
            and abs(self.before.graded - self.after.graded) < SAME
            and self.before.accepted_id == self.after.accepted_id
            and self.before.report == self.after.report
        )


class Regrading:
    """Changes of grades by one account in the classes that it teaches."""

    def __init__(
        self, store: Repositories, account: Account, learner: Learner, clock: Callable[[], datetime]
    ) -> None:
        self.store, self.account, self.clock = store, account, clock
        self._assignments = Assignments(store, account, learner, clock)

    def preview_scheme(self, uid: str, scheme: Mapping[str, Any] | None) -> tuple[Change, ...]:
        """What another scheme would do to each grade of an assignment; nothing is stored.

        Raises ClassNotFound, SettingsError for a scheme that cannot be.
        """
        _, assignment = self._assignments.find(uid)
        return self._changes(self.store, _with_scheme(assignment, scheme))

    def change_scheme(self, uid: str, scheme: Mapping[str, Any] | None) -> tuple[Change, ...]:
        """Grade an assignment by another scheme. Gives what changed; raises as `preview_scheme`."""
        _, before = self._assignments.find(uid)
        after = _with_scheme(before, scheme)
        known = self._changes(self.store, after)

        def work(store: Repositories) -> tuple[Change, ...]:
            store.assignments.get(before.id, lock="change")
            store.assignments.change(before, scheme=after.scheme)
            told: Told = ({"scheme": before.scheme}, {"scheme": after.scheme})
            return self._apply(store, after, known, "scheme", told)

        return self.store.transact(work)

    def preview_chart(self, item_uid: str, song: str, text: str) -> tuple[Change, ...]:
        """What accepting a second chart of a song would do; nothing is stored.

        Raises ClassNotFound, NotationError for a text that is no whole chart.
        """
        assignment, item = self._item(item_uid)
        chart = self._chart(item, song, text, "")
        return self._changes(self.store, assignment, [item], more=[chart])

    def accept_chart(
        self, item_uid: str, song: str, text: str, comment: str = ""
    ) -> tuple[Change, ...]:
        """Accept a second chart of a song for every answer to it. Gives what changed; raises as
        `preview_chart`."""
        assignment, item = self._item(item_uid)
        chart = self._chart(item, song, text, comment)

        def work(store: Repositories) -> tuple[Change, ...]:
            store.assignments.get(assignment.id, lock="change")
            store.class_grades.accept(chart)
            known = self._changes(store, assignment, [item])
            told: Told = ({}, {"item": item.uid, "chart": chart.text})
            return self._apply(store, assignment, known, "chart", told)

        return self.store.transact(work)

    def withdraw_chart(self, item_uid: str, chart_id: int) -> tuple[Change, ...]:
        """Take back an accepted chart. Gives what changed; raises ClassNotFound."""
        assignment, item = self._item(item_uid)
        accepted = self.store.class_grades.accepted([item.id])
        chart = next((each for each in accepted if each.id == chart_id), None)
        if chart is None:
            raise ClassNotFound("There is no such accepted chart here.")

        def work(store: Repositories) -> tuple[Change, ...]:
            store.assignments.get(assignment.id, lock="change")
            store.class_grades.withdraw(chart, self.clock())
            known = self._changes(store, assignment, [item])
            told: Told = ({"item": item.uid, "chart": chart.text}, {})
            return self._apply(store, assignment, known, "chart", told)

        return self.store.transact(work)

    def override(
        self, attempt_id: int, bar: int, credit: float | None, comment: str = ""
    ) -> Change:
        """Give a bar of an attempt another credit, comment on it, or both; bar 0 is the attempt as
        a whole. Without either, what stood there is taken back.

        Raises ClassNotFound, AssignmentError.
        """
        assignment, item, answer = self._answer(attempt_id)
        exercise = self._exercises([item])[item.id, answer.attempt.song]
        bars = len(exercise.chart.bars())
        if not WHOLE <= bar <= bars:
            raise AssignmentError(f"Found bar {bar}, expected one of 1 to {bars}.")
        if credit is not None and not 0 <= credit <= 1:
            raise AssignmentError(f"Found {credit:g}, expected a credit from 0 to 1.")
        comment = storable(comment).strip()[:LONGEST_COMMENT]
        now = self.clock()
        new = Override(attempt_id, bar, credit, comment, self.account.id, now)

        def work(store: Repositories) -> Change:
            store.assignments.get(assignment.id, lock="change")
            before = {each.bar: each for each in store.class_grades.overrides(attempt_id)}
            if credit is None and not comment:
                store.class_grades.clear_override(attempt_id, bar)
            else:
                store.class_grades.set_override(new)
            change = self._overridden(store, assignment, item, attempt_id)
            if not change.is_none:
                store.class_grades.replace(attempt_id, change.before, change.after, "override", now)
            told = before.get(bar)
            store.audit_log.add(
                "bar changed",
                f"attempt {attempt_id}",
                at=now,
                who=self.account.uid,
                before=_told(bar, told, change.before.score),
                after=_told(bar, new, change.after.score),
            )
            return change

        return self.store.transact(work)

    def _overridden(
        self, store: Repositories, assignment: Assignment, item: AssignmentItem, attempt_id: int
    ) -> Change:
        """What the overrides of an attempt make of its grade, whose report stays."""
        answers = store.assigned.answers_to([item.id])
        answer = next(each for each in answers if each.attempt.attempt_id == attempt_id)
        attempt = answer.attempt
        exercise = self._exercises([item])[item.id, attempt.song]
        accepted = {each.id: each for each in store.class_grades.accepted([item.id])}
        after = final_score(
            attempt.grade,
            answer.report,
            reference_of(exercise, accepted.get(attempt.grade.accepted_id or 0)),
            read_answer(exercise, answer.text).chart,
            store.class_grades.overrides(attempt_id),
            assignment.late_cost if attempt.late else 0.0,
        )
        return Change(attempt_id, attempt.account_id, item.id, attempt.grade, after)

    def _changes(
        self,
        store: Repositories,
        assignment: Assignment,
        items: Sequence[AssignmentItem] | None = None,
        more: Sequence[AcceptedChart] = (),
        known: Mapping[int, Change] | None = None,
    ) -> tuple[Change, ...]:
        """What grading the answers of some items again makes of each; those `known` are not graded
        again, as long as their grade is still what it was."""
        chosen = store.assignments.items(assignment) if items is None else items
        ids = [each.id for each in chosen]
        exercises, known = self._exercises(chosen), known or {}
        overrides = store.class_grades.overrides_of(ids)
        accepted = [*store.class_grades.accepted(ids), *more]
        found = []
        for answer in store.assigned.answers_to(ids):
            attempt = answer.attempt
            before = known.get(attempt.attempt_id)
            if before is not None and before.before == attempt.grade:
                found.append(before)
                continue
            exercise = exercises[attempt.item_id, attempt.song]
            charts = [
                each
                for each in accepted
                if (each.item_id, each.song) == (attempt.item_id, attempt.song)
            ]
            graded = _graded(assignment, exercise, answer, charts)
            late = assignment.late_cost if attempt.late else 0.0
            after = final_score(
                graded,
                graded.report or answer.own,
                reference_of(exercise, _chosen(charts, graded)),
                read_answer(exercise, answer.text).chart,
                overrides.get(attempt.attempt_id, ()),
                late,
            )
            found.append(
                Change(
                    attempt.attempt_id, attempt.account_id, attempt.item_id, attempt.grade, after
                )
            )
        return tuple(found)

    def _apply(
        self,
        store: Repositories,
        assignment: Assignment,
        known: Sequence[Change],
        why: str,
        told: Told,
    ) -> tuple[Change, ...]:
        """Store changed grades, those of answers that came in meanwhile too."""
        now = self.clock()
        changes = known
        if why == "scheme":
            before = {each.attempt_id: each for each in known}
            changes = self._changes(store, assignment, known=before)
        changed = [each for each in changes if not each.is_none]
        for each in changed:
            store.class_grades.replace(each.attempt_id, each.before, each.after, why, now)
        store.audit_log.add(
            {"scheme": "scheme changed", "chart": "accepted charts changed"}[why],
            subject_of(assignment),
            at=now,
            who=self.account.uid,
            before={**told[0], "scores": {str(c.attempt_id): c.before.score for c in changed}},
            after={**told[1], "scores": {str(c.attempt_id): c.after.score for c in changed}},
        )
        return tuple(changes)

    def _exercises(self, items: Sequence[AssignmentItem]) -> dict[tuple[int, str], Exercise]:
        data = self.store.assigned.exercises_of([each.id for each in items])
        return {key: exercise_from_json(value) for key, value in data.items()}

    def _item(self, uid: str) -> tuple[Assignment, AssignmentItem]:
        """An item of an assignment that the account may grade. Raises ClassNotFound."""
        item = self.store.assignments.item(uid)
        assignment = self.store.assignments.get(item.assignment_id) if item is not None else None
        if item is None or assignment is None:
            raise ClassNotFound(NOT_HERE)
        return self._assignments.find(assignment.uid)[1], item

    def _answer(self, attempt_id: int) -> tuple[Assignment, AssignmentItem, GradedAnswer]:
        attempt = self.store.assigned.attempt(attempt_id)
        item = self.store.assignments.item_by_id(attempt.item_id) if attempt is not None else None
        if attempt is None or item is None:
            raise ClassNotFound("There is no such work here.")
        assignment, _ = self._item(item.uid)
        answers = self.store.assigned.answers_to([item.id], attempt.song)
        return assignment, item, next(a for a in answers if a.attempt.attempt_id == attempt_id)

    def _chart(self, item: AssignmentItem, song: str, text: str, comment: str) -> AcceptedChart:
        """A second chart of a song, not stored yet; its number is that of none."""
        exercise = self._exercises([item]).get((item.id, song))
        if exercise is None:
            raise ClassNotFound("There is no such song in this item.")
        text = storable(text.replace("\r\n", "\n"))
        header = header_for(exercise)
        parse(text, source="the second chart", header=header)
        comment = storable(comment).strip()[:LONGEST_COMMENT]
        now = self.clock()
        return AcceptedChart(-1, item.id, song, text, comment, self.account.id, now)


def _with_scheme(assignment: Assignment, scheme: Mapping[str, Any] | None) -> Assignment:
    """An assignment with another scheme. Raises SettingsError if it cannot be."""
    if scheme is not None:
        weights_from(dict(scheme))
    return replace(assignment, scheme=None if scheme is None else dict(scheme))


def _graded(
    assignment: Assignment,
    exercise: Exercise,
    answer: GradedAnswer,
    charts: Sequence[AcceptedChart],
) -> AttemptGrade:
    weights = weights_of(assignment, exercise)
    return regrade_answer(exercise, answer.text, answer.own, weights, charts)


def _chosen(charts: Sequence[AcceptedChart], graded: AttemptGrade) -> AcceptedChart | None:
    return next((each for each in charts if each.id == graded.accepted_id), None)


def _told(bar: int, override: Override | None, score: float) -> dict[str, Any]:
    """An override for the log."""
    credit = None if override is None else override.credit
    comment = "" if override is None else override.comment
    return {"bar": bar, "credit": credit, "comment": comment, "score": score}
