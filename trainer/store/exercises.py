"""Exercises as they were when they were given: a newer generator never changes an old result."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, Row, select

from trainer.errors import InputError, StoreBroken, StoreError
from trainer.exercise import Exercise, exercise_from_json, exercise_to_json, song_digest
from trainer.store.database import Database, upsert
from trainer.store.records import ExerciseRecord, Learner
from trainer.store.tables import exercises

__all__ = ["Exercises", "read_exercise"]


class Exercises:
    """The exercises of a store, each owned by the learner who was given it."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keep(self, owner: Learner, exercise: Exercise) -> ExerciseRecord:
        """Store a whole exercise for its owner, unless it is stored already.

        Raises
        ------
        StoreError
            If the owner has another song under the exercise's id, or is no longer there.
        """
        song = song_digest(exercise)
        row = {
            "key": exercise.id,
            "owner_id": owner.id,
            "song": song,
            "level": exercise.level,
            "origin": "song" if "song" in exercise.recipe else "generated",
            "title": exercise.chart.title,
            "data": exercise_to_json(exercise),
        }
        with self._database.writing() as connection:
            upsert(connection, exercises, [row])
            kept = _find(connection, owner.id, exercise.id)
        if kept is None:
            raise StoreError(f"exercise {exercise.id}: it was stored but can't be read back")
        if kept.song != song:
            raise StoreError(
                f"exercise {exercise.id}: found a different chart from the one stored under this "
                "id, expected the same one. The stored chart was not changed."
            )
        return kept

    def get(self, owner: Learner, key: str) -> ExerciseRecord | None:
        """The owner's exercise of that id, if there is one."""
        with self._database.reading() as connection:
            return _find(connection, owner.id, key)


def _find(connection: Connection, owner_id: int, key: str) -> ExerciseRecord | None:
    query = select(exercises).where(exercises.c.owner_id == owner_id, exercises.c.key == key)
    row = connection.execute(query).first()
    return read_exercise(row) if row is not None else None


def read_exercise(row: Row[Any]) -> ExerciseRecord:
    """The record in a row of the exercises.

    Raises
    ------
    StoreBroken
        If what is stored is no exercise.
    """
    data: Mapping[str, Any] = row.data
    try:
        exercise = exercise_from_json(data)
    except InputError as error:
        raise StoreBroken(f"exercises, row {row.id}: {error}") from error
    return ExerciseRecord(row.id, row.owner_id, row.origin, row.song, exercise)
