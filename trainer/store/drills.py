"""Exercises being written: listens, working time, and what was typed so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from sqlalchemy import ColumnElement, Row, delete, select, update

from trainer.store.database import Database, upsert
from trainer.store.exercises import read_exercise
from trainer.store.records import ExerciseRecord, Learner, OpenDrill
from trainer.store.tables import drills, exercises

__all__ = ["OpenDrills"]

_FIELDS = tuple(field.name for field in fields(OpenDrill))
# These columns keep the values with which the drill began; all others may change.
_CHANGING = tuple(name for name in _FIELDS if name not in ("token", "started_at"))


class OpenDrills:
    """At most one open drill for a learner and an exercise."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def find(
        self, learner: Learner, exercise: ExerciseRecord, *, lock: bool = False
    ) -> OpenDrill | None:
        """The open drill, if there is one; with `lock`, within a transaction, kept from others."""
        columns = [drills.c[name] for name in _FIELDS]
        query = select(*columns).where(*_at(learner, exercise))
        if lock:
            query = query.with_for_update()
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return _read(row) if row is not None else None

    def begin(self, learner: Learner, exercise: ExerciseRecord, drill: OpenDrill) -> OpenDrill:
        """Store a drill that begins, or give the one that another window has begun."""
        row = {"learner_id": learner.id, "exercise_id": exercise.id, **_row(drill, _FIELDS)}
        query = select(*(drills.c[name] for name in _FIELDS)).where(*_at(learner, exercise))
        with self._database.writing() as connection:
            found = None
            # On PostgreSQL another window may close the drill it had begun between the two steps.
            while found is None:
                upsert(connection, drills, [row])
                found = connection.execute(query).first()
        return _read(found)

    def change(self, learner: Learner, exercise: ExerciseRecord, drill: OpenDrill) -> None:
        """Store how far a drill has got."""
        changing = update(drills).where(*_at(learner, exercise)).values(_row(drill, _CHANGING))
        with self._database.writing() as connection:
            connection.execute(changing)

    def close(self, learner: Learner, exercise: ExerciseRecord) -> None:
        """Delete a drill with the text typed in it."""
        with self._database.writing() as connection:
            connection.execute(delete(drills).where(*_at(learner, exercise)))

    def latest(self, learner: Learner) -> tuple[ExerciseRecord, OpenDrill] | None:
        """The exercise last typed at and not submitted, if there is one."""
        columns = [drills.c[name].label(f"drill_{name}") for name in _FIELDS]
        query = (
            select(exercises, *columns)
            .join(drills, drills.c.exercise_id == exercises.c.id)
            .where(drills.c.learner_id == learner.id, drills.c.text != "")
            .order_by(drills.c.text_at.desc(), drills.c.exercise_id)
            .limit(1)
        )
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        if row is None:
            return None
        return read_exercise(row), _read(row, "drill_")

    def all(self, learner: Learner) -> Sequence[tuple[ExerciseRecord, OpenDrill]]:
        """Everything a learner has begun and not submitted, by exercise."""
        columns = [drills.c[name].label(f"drill_{name}") for name in _FIELDS]
        query = (
            select(exercises, *columns)
            .join(drills, drills.c.exercise_id == exercises.c.id)
            .where(drills.c.learner_id == learner.id)
            .order_by(exercises.c.key)
        )
        with self._database.reading() as connection:
            rows = connection.execute(query).all()
        return [(read_exercise(row), _read(row, "drill_")) for row in rows]


def _at(learner: Learner, exercise: ExerciseRecord) -> tuple[ColumnElement[bool], ...]:
    return (drills.c.learner_id == learner.id, drills.c.exercise_id == exercise.id)


def _row(drill: OpenDrill, names: Sequence[str]) -> dict[str, Any]:
    row = {name: getattr(drill, name) for name in names}
    if "speeds" in row:
        row["speeds"] = list(row["speeds"])
    return row


def _read(row: Row[Any], prefix: str = "") -> OpenDrill:
    values = {name: getattr(row, prefix + name) for name in _FIELDS}
    return OpenDrill(**values | {"speeds": tuple(values["speeds"])})
