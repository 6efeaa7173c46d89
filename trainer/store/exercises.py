"""Exercises as they were when they were given: a newer generator never changes an old result."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Connection, select

from trainer.errors import StoreError
from trainer.store.database import Database, upsert
from trainer.store.records import ExerciseRecord
from trainer.store.tables import exercises

__all__ = ["Exercises", "asked", "find_exercise", "keep_exercise"]

LONGEST_ID = 200


def asked(data: Mapping[str, Any]) -> str:
    """What an exercise, as it is kept, asks for: "roots", "chords" or "everything"."""
    return str((data.get("recipe") or {}).get("ask", "everything"))


class Exercises:
    """The exercises of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def keep(self, exercise: Mapping[str, Any], origin: str | None = None) -> ExerciseRecord:
        """Keep an exercise whole, or find it kept.

        Parameters
        ----------
        exercise : what `trainer.exercise.exercise_to_json` makes; needs "id" and "chart".
        origin : "generated" or "song"; by default a song is what has no seed.

        Raises
        ------
        ValueError
            If id or chart is missing, or the id is longer than 200 characters.
        StoreError
            If the id is kept already with another chart.
        """
        with self._database.writing() as connection:
            return keep_exercise(connection, exercise, origin)

    def get(self, exercise_id: str) -> ExerciseRecord | None:
        """The exercise of that id, if it is kept."""
        with self._database.reading() as connection:
            return find_exercise(connection, exercise_id)


def keep_exercise(
    connection: Connection, exercise: Mapping[str, Any], origin: str | None = None
) -> ExerciseRecord:
    """Do `Exercises.keep` within a transaction."""
    exercise_id, chart = exercise.get("id"), exercise.get("chart")
    if not isinstance(exercise_id, str) or not 0 < len(exercise_id) <= LONGEST_ID:
        raise ValueError(f"exercise: found id {exercise_id!r}, expected 1 to {LONGEST_ID} letters")
    if not isinstance(chart, Mapping) or "sections" not in chart:
        raise ValueError(f"exercise {exercise_id}: found no chart, expected one with sections")
    row = {
        "id": exercise_id,
        "level": exercise.get("level"),
        "origin": origin or ("song" if exercise.get("seed") is None else "generated"),
        "title": str(chart.get("title") or ""),
        "data": dict(exercise),
    }
    upsert(connection, exercises, [row])
    kept = find_exercise(connection, exercise_id)
    assert kept is not None
    if kept.chart != chart:
        raise StoreError(
            f"exercise {exercise_id}: found another chart than the one kept under this id, "
            "expected the same. What is kept was left as it is."
        )
    return kept


def find_exercise(connection: Connection, exercise_id: str) -> ExerciseRecord | None:
    """Do `Exercises.get` within a transaction."""
    query = select(exercises).where(exercises.c.id == exercise_id)
    row = connection.execute(query).mappings().first()
    return ExerciseRecord(**row) if row else None
