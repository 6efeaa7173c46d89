"""The repository of what was handed out to whom, and of the attempts that came back."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import fields
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Row, Select, func, insert, select, update

from trainer.store.assignment_tables import (
    assigned,
    assigned_attempts,
    assignment_items,
    assignments,
    classes,
    overrides,
)
from trainer.store.class_records import Assigned, AssignedAttempt, AttemptGrade, GradedAnswer
from trainer.store.database import Database
from trainer.store.lti import mark_due
from trainer.store.records import ExerciseRecord, Learner, as_utc
from trainer.store.tables import attempts, exercises, submissions

__all__ = ["ATTEMPT_COLUMNS", "AssignedWork", "read_attempt"]

_ASSIGNED = tuple(
    exercises.c.key if field.name == "key" else assigned.c[field.name] for field in fields(Assigned)
)
_GRADED = assigned_attempts.c
ATTEMPT_COLUMNS = (
    _GRADED.attempt_id,
    assigned.c.item_id,
    assigned.c.account_id,
    assigned.c.number,
    assigned.c.song,
    _GRADED.handed_in_at,
    _GRADED.late,
    _GRADED.counts,
    _GRADED.graded,
    _GRADED.score,
    _GRADED.accepted_id,
    attempts.c.listens,
    attempts.c.paused,
    attempts.c.tempo_ratio,
)


class AssignedWork:
    """What was handed out and handed in."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def hand_out(
        self, item_id: int, account_id: int, number: int, record: ExerciseRecord, at: datetime
    ) -> Assigned:
        """Store that an exercise was handed out as an account's try of that number at an item.

        Raises
        ------
        StoreError
            If that try was handed out already.
        """
        row = {
            "item_id": item_id,
            "account_id": account_id,
            "number": number,
            "exercise_id": record.id,
            "song": record.song,
            "handed_at": as_utc(at, "time of handing out"),
        }
        with self._database.writing() as connection:
            made = connection.execute(insert(assigned).values(row).returning(assigned.c.id))
            new_id: int = made.scalar_one()
        return Assigned(new_id, item_id, account_id, number, record.id, record.key, record.song, at)

    def of_exercise(self, record: ExerciseRecord) -> Assigned | None:
        """What an exercise was handed out as; None if it was not."""
        found = self._assigned(assigned.c.exercise_id == record.id)
        return found[0] if found else None

    def of_account(self, account_id: int, item_ids: Collection[int]) -> tuple[Assigned, ...]:
        """All tries of an account at some items, by item and number."""
        return self._assigned(assigned.c.account_id == account_id, assigned.c.item_id.in_(item_ids))

    def songs_of(self, item_id: int) -> frozenset[str]:
        """The digests of the songs that were handed out for an item."""
        query = select(assigned.c.song).where(assigned.c.item_id == item_id).distinct()
        with self._database.reading() as connection:
            return frozenset(connection.execute(query).scalars())

    def any_handed_out(self, assignment_id: int) -> bool:
        """Whether anything of an assignment was handed out."""
        query = (
            select(assigned.c.id)
            .join(assignment_items, assignment_items.c.id == assigned.c.item_id)
            .where(assignment_items.c.assignment_id == assignment_id)
            .limit(1)
        )
        with self._database.reading() as connection:
            return connection.execute(query).first() is not None

    def add_attempt(
        self,
        given: Assigned,
        attempt_id: int,
        grade: AttemptGrade,
        at: datetime,
        *,
        late: bool,
        counts: bool,
    ) -> None:
        """Store an attempt in its place, within the transaction that stores the attempt."""
        row = {
            "attempt_id": attempt_id,
            "assigned_id": given.id,
            "handed_in_at": as_utc(at, "time of handing in"),
            "late": late,
            "counts": counts,
            **grade_row(grade),
        }
        with self._database.writing() as connection:
            connection.execute(insert(assigned_attempts).values(row))
            mark_due(connection, [attempt_id], at)

    def attempts_of(
        self, item_ids: Collection[int], account_id: int | None = None
    ) -> tuple[AssignedAttempt, ...]:
        """The attempts at some items, of one account or of all, by account, item and number of the
        try; without their reports."""
        conditions: list[ColumnElement[bool]] = [assigned.c.item_id.in_(item_ids)]
        if account_id is not None:
            conditions.append(assigned.c.account_id == account_id)
        query = (
            _attempts(*ATTEMPT_COLUMNS)
            .where(*conditions)
            .order_by(assigned.c.account_id, assigned.c.item_id, assigned.c.number)
        )
        with self._database.reading() as connection:
            return tuple(map(read_attempt, connection.execute(query)))

    def attempt(self, attempt_id: int) -> AssignedAttempt | None:
        """An attempt in its place, with the report that it was graded again with; None if the
        attempt is at no assigned exercise."""
        query = _attempts(*ATTEMPT_COLUMNS, _GRADED.report).where(_GRADED.attempt_id == attempt_id)
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return None if row is None else read_attempt(row)

    def answers_to(
        self, item_ids: Collection[int], song: str | None = None
    ) -> tuple[GradedAnswer, ...]:
        """What was written for some items, with the reports that hold; for one song, or for all."""
        conditions: list[ColumnElement[bool]] = [assigned.c.item_id.in_(item_ids)]
        if song is not None:
            conditions.append(assigned.c.song == song)
        columns = (*ATTEMPT_COLUMNS, _GRADED.report)
        query = (
            _attempts(*columns, submissions.c.answer_text, submissions.c.report.label("own"))
            .join(submissions, submissions.c.attempt_id == _GRADED.attempt_id)
            .where(*conditions)
            .order_by(assigned.c.item_id, assigned.c.account_id, assigned.c.number)
        )
        with self._database.reading() as connection:
            return tuple(
                GradedAnswer(read_attempt(row), row.answer_text, row.report or row.own, row.own)
                for row in connection.execute(query)
            )

    def told_of(self, learner: Learner) -> tuple[dict[str, Any], ...]:
        """What classes keep of a learner's work, as plain values: what it was for, when it was
        handed in, and how it was graded, without what is not shown to the learner yet."""
        query = (
            _attempts(
                classes.c.name.label("class"),
                assignments.c.title.label("assignment"),
                assignment_items.c.title.label("item"),
                assigned.c.number,
                _GRADED.handed_in_at,
                _GRADED.late,
                _GRADED.counts,
                _GRADED.graded,
                _GRADED.score,
                _GRADED.attempt_id,
            )
            .join(assignment_items, assignment_items.c.id == assigned.c.item_id)
            .join(assignments, assignments.c.id == assignment_items.c.assignment_id)
            .join(classes, classes.c.id == assignments.c.class_id)
            .where(attempts.c.learner_id == learner.id, attempts.c.hidden_until.is_(None))
            .order_by(_GRADED.attempt_id)
        )
        said = (
            select(overrides)
            .join(attempts, attempts.c.id == overrides.c.attempt_id)
            .where(attempts.c.learner_id == learner.id, attempts.c.hidden_until.is_(None))
            .order_by(overrides.c.attempt_id, overrides.c.bar)
        )
        with self._database.reading() as connection:
            rows = [dict(row) for row in connection.execute(query).mappings()]
            bars: dict[int, list[dict[str, Any]]] = {}
            for row in connection.execute(said):
                told = {"bar": row.bar, "credit": row.credit, "comment": row.comment}
                bars.setdefault(row.attempt_id, []).append(told)
        return tuple(
            row
            | {
                "handed_in_at": row["handed_in_at"].isoformat(),
                "bars": bars.get(row.pop("attempt_id"), []),
            }
            for row in rows
        )

    def exercises_of(self, item_ids: Collection[int]) -> Mapping[tuple[int, str], Any]:
        """One exercise for each song that was handed out for some items, by item and the digest of
        the song."""
        a = assigned.c
        first = (
            select(func.min(a.exercise_id))
            .where(a.item_id.in_(item_ids))
            .group_by(a.item_id, a.song)
        )
        query = (
            select(a.item_id, a.song, exercises.c.data)
            .join(exercises, exercises.c.id == a.exercise_id)
            .where(a.exercise_id.in_(first))
        )
        with self._database.reading() as connection:
            return {(row.item_id, row.song): row.data for row in connection.execute(query)}

    def hide(self, item_ids: Collection[int], until: datetime) -> None:
        """Hide those results at some items that are not shown yet until another moment."""
        at_items = (
            select(_GRADED.attempt_id)
            .join(assigned, assigned.c.id == _GRADED.assigned_id)
            .where(assigned.c.item_id.in_(item_ids))
        )
        mine = (attempts.c.id.in_(at_items), attempts.c.hidden_until.is_not(None))
        with self._database.writing() as connection:
            connection.execute(
                update(attempts).where(*mine).values(hidden_until=as_utc(until, "until"))
            )

    def _assigned(self, *conditions: ColumnElement[bool]) -> tuple[Assigned, ...]:
        query = (
            select(*_ASSIGNED)
            .join(exercises, exercises.c.id == assigned.c.exercise_id)
            .where(*conditions)
            .order_by(assigned.c.item_id, assigned.c.number)
        )
        with self._database.reading() as connection:
            return tuple(Assigned(*row) for row in connection.execute(query))


def _attempts(*columns: Any) -> Select[Any]:
    return (
        select(*columns)
        .select_from(assigned_attempts)
        .join(assigned, assigned.c.id == _GRADED.assigned_id)
        .join(attempts, attempts.c.id == _GRADED.attempt_id)
    )


def grade_row(grade: AttemptGrade) -> dict[str, Any]:
    """A grade as the columns of its row."""
    return {
        "graded": grade.graded,
        "score": grade.score,
        "report": None if grade.report is None else dict(grade.report),
        "accepted_id": grade.accepted_id,
    }


def read_attempt(row: Row[Any]) -> AssignedAttempt:
    """The attempt in a row that has `ATTEMPT_COLUMNS`, and perhaps `report`."""
    return AssignedAttempt(
        attempt_id=row.attempt_id,
        item_id=row.item_id,
        account_id=row.account_id,
        number=row.number,
        song=row.song,
        handed_in_at=row.handed_in_at,
        late=row.late,
        counts=row.counts,
        grade=AttemptGrade(row.graded, row.score, getattr(row, "report", None), row.accepted_id),
        listens=row.listens,
        paused=row.paused,
        tempo_ratio=row.tempo_ratio,
    )
