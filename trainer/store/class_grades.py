"""The repository of grades that a teacher changes: overrides, accepted charts, grades before."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import fields
from datetime import datetime

from sqlalchemy import delete, insert, select, update

from trainer.store.assigned import grade_row
from trainer.store.assignment_tables import (
    accepted_charts,
    assigned,
    assigned_attempts,
    earlier_grades,
    overrides,
)
from trainer.store.class_records import (
    AcceptedChart,
    AttemptGrade,
    EarlierGrade,
    Override,
)
from trainer.store.database import Database
from trainer.store.lti import mark_due
from trainer.store.records import as_utc

__all__ = ["ClassGrades"]

_OVERRIDE = tuple(overrides.c[field.name] for field in fields(Override))
_ACCEPTED = tuple(accepted_charts.c[field.name] for field in fields(AcceptedChart))


class ClassGrades:
    """What teachers changed of grades, and what the grades were before."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def set_override(self, override: Override) -> None:
        """Store what a teacher changed or said about a bar, in place of what stood there."""
        values = {field.name: getattr(override, field.name) for field in fields(Override)}
        with self._database.writing() as connection:
            o = overrides.c
            there = (o.attempt_id == override.attempt_id, o.bar == override.bar)
            connection.execute(delete(overrides).where(*there))
            connection.execute(insert(overrides).values(values))

    def clear_override(self, attempt_id: int, bar: int) -> None:
        """Take back what a teacher changed or said about a bar."""
        o = overrides.c
        with self._database.writing() as connection:
            connection.execute(delete(overrides).where(o.attempt_id == attempt_id, o.bar == bar))

    def overrides_of(self, item_ids: Collection[int]) -> Mapping[int, tuple[Override, ...]]:
        """The overrides of the attempts at some items, by attempt and in the order of bars."""
        query = (
            select(*_OVERRIDE)
            .join(assigned_attempts, assigned_attempts.c.attempt_id == overrides.c.attempt_id)
            .join(assigned, assigned.c.id == assigned_attempts.c.assigned_id)
            .where(assigned.c.item_id.in_(item_ids))
            .order_by(overrides.c.attempt_id, overrides.c.bar)
        )
        found: dict[int, list[Override]] = {}
        with self._database.reading() as connection:
            for row in connection.execute(query):
                found.setdefault(row.attempt_id, []).append(Override(*row))
        return {attempt: tuple(each) for attempt, each in found.items()}

    def overrides(self, attempt_id: int) -> tuple[Override, ...]:
        """The overrides of one attempt, in the order of bars."""
        query = select(*_OVERRIDE).where(overrides.c.attempt_id == attempt_id)
        with self._database.reading() as connection:
            return tuple(
                Override(*row) for row in connection.execute(query.order_by(overrides.c.bar))
            )

    def accept(self, chart: AcceptedChart) -> AcceptedChart:
        """Store a second chart that is right as well; gives it back with its number."""
        names = [field.name for field in fields(AcceptedChart) if field.name != "id"]
        values = {name: getattr(chart, name) for name in names}
        with self._database.writing() as connection:
            adding = insert(accepted_charts).values(values).returning(*_ACCEPTED)
            return AcceptedChart(*connection.execute(adding).one())

    def withdraw(self, chart: AcceptedChart, at: datetime) -> None:
        """Note that a chart is no longer accepted."""
        moment = as_utc(at, "time of withdrawing")
        changing = update(accepted_charts).where(accepted_charts.c.id == chart.id)
        with self._database.writing() as connection:
            connection.execute(changing.values(withdrawn_at=moment))

    def accepted(self, item_ids: Collection[int]) -> tuple[AcceptedChart, ...]:
        """The charts that are accepted for some items, oldest first."""
        a = accepted_charts.c
        query = select(*_ACCEPTED).where(a.item_id.in_(item_ids), a.withdrawn_at.is_(None))
        with self._database.reading() as connection:
            return tuple(AcceptedChart(*row) for row in connection.execute(query.order_by(a.id)))

    def replace(
        self, attempt_id: int, before: AttemptGrade, after: AttemptGrade, why: str, at: datetime
    ) -> None:
        """Store another grade of an attempt, and what it was until now; `why` is a reason of
        `EarlierGrade`."""
        earlier = {
            "attempt_id": attempt_id,
            "until": as_utc(at, "time of a new grade"),
            "reason": why,
            "graded": before.graded,
            "score": before.score,
            "report": None if before.report is None else dict(before.report),
        }
        changing = update(assigned_attempts).where(assigned_attempts.c.attempt_id == attempt_id)
        with self._database.writing() as connection:
            connection.execute(insert(earlier_grades).values(earlier))
            connection.execute(changing.values(grade_row(after)))
            mark_due(connection, [attempt_id], at)

    def earlier(self, attempt_id: int) -> tuple[EarlierGrade, ...]:
        """The grades that an attempt had, oldest first."""
        return self.earlier_of([attempt_id]).get(attempt_id, ())

    def earlier_of(self, attempt_ids: Collection[int]) -> Mapping[int, tuple[EarlierGrade, ...]]:
        """The grades that some attempts had, by attempt, oldest first."""
        e = earlier_grades.c
        query = select(earlier_grades).where(e.attempt_id.in_(attempt_ids)).order_by(e.id)
        found: dict[int, tuple[EarlierGrade, ...]] = {}
        with self._database.reading() as connection:
            for row in connection.execute(query):
                grade = AttemptGrade(row.graded, row.score, row.report)
                one = EarlierGrade(row.attempt_id, row.until, row.reason, grade)
                found[row.attempt_id] = (*found.get(row.attempt_id, ()), one)
        return found
