"""Runs at the quick questions of lessons, stored answer by answer."""

from __future__ import annotations

from dataclasses import fields
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Row, select, update

from trainer.store.database import Database, upsert
from trainer.store.records import Learner, LessonRun, NewLessonRun, as_utc
from trainer.store.tables import lesson_runs

__all__ = ["LessonRuns"]

_FIELDS = tuple(field.name for field in fields(NewLessonRun))
_COLUMNS = [lesson_runs.c.id, *(lesson_runs.c[name] for name in _FIELDS)]


class LessonRuns:
    """What the learners of a store answered in lessons."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, learner: Learner, run: NewLessonRun) -> LessonRun:
        """Store a run; one of the same lesson that began at the same moment stays as it is."""
        r = lesson_runs.c
        at = as_utc(run.started_at, "start of a lesson")
        with self._database.writing() as connection:
            upsert(connection, lesson_runs, [_row(learner, run)])
            query = select(*_COLUMNS).where(
                r.learner_id == learner.id, r.lesson == run.lesson, r.started_at == at
            )
            return _read(connection.execute(query).one())

    def find(self, learner: Learner, run_id: int, *, lock: bool = False) -> LessonRun | None:
        """A learner's run; with `lock`, within a transaction, kept from other writers."""
        query = select(*_COLUMNS).where(
            lesson_runs.c.learner_id == learner.id, lesson_runs.c.id == run_id
        )
        with self._database.reading() as connection:
            row = connection.execute(query.with_for_update() if lock else query).first()
        return _read(row) if row is not None else None

    def answer(self, run: LessonRun, played: str, chosen: str, at: datetime) -> LessonRun:
        """Store the next answer of a run that is locked."""
        answers = [list(each) for each in (*run.answers, (played, chosen))]
        values = {"answers": answers, "answered_at": as_utc(at, "time of an answer")}
        with self._database.writing() as connection:
            changing = update(lesson_runs).where(lesson_runs.c.id == run.id).values(values)
            connection.execute(changing)
            query = select(*_COLUMNS).where(lesson_runs.c.id == run.id)
            return _read(connection.execute(query).one())

    def newest(self, learner: Learner, lesson: str) -> LessonRun | None:
        """The run of a lesson that began last, if there is one."""
        found = self._runs(learner, lesson_runs.c.lesson == lesson)
        return found[-1] if found else None

    def all(self, learner: Learner) -> tuple[LessonRun, ...]:
        """Every run of a learner, oldest first."""
        return self._runs(learner)

    def _runs(self, learner: Learner, *where: ColumnElement[bool]) -> tuple[LessonRun, ...]:
        r = lesson_runs.c
        query = (
            select(*_COLUMNS).where(r.learner_id == learner.id, *where).order_by(r.started_at, r.id)
        )
        with self._database.reading() as connection:
            return tuple(map(_read, connection.execute(query)))


def _row(learner: Learner, run: NewLessonRun) -> dict[str, Any]:
    row = {name: getattr(run, name) for name in _FIELDS}
    return row | {"learner_id": learner.id, "answers": [list(each) for each in run.answers]}


def _read(row: Row[Any]) -> LessonRun:
    values = {name: getattr(row, name) for name in ("id", *_FIELDS)}
    return LessonRun(**values | {"answers": tuple(map(tuple, values["answers"]))})
