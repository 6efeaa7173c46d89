"""What was typed so far: kept as it is typed, gone when the attempt is in."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import Connection, delete, select

from trainer.store.database import Database, upsert
from trainer.store.records import Draft, ExerciseRecord, Learner, as_utc
from trainer.store.seats import touch_seat
from trainer.store.tables import drafts

__all__ = ["Drafts", "clear_draft"]


class Drafts:
    """The drafts of a store: at most one for a learner and an exercise."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def save(self, learner: Learner, exercise: ExerciseRecord, text: str, now: datetime) -> None:
        """Keep what was typed, in place of what was kept before."""
        row = {
            "learner_id": learner.id,
            "exercise_id": exercise.id,
            "text": text,
            "updated_at": as_utc(now, "now"),
        }
        with self._database.writing() as connection:
            upsert(connection, drafts, [row], replace=("text", "updated_at"))
            touch_seat(connection, learner.id, exercise.id, now)

    def load(self, learner: Learner, exercise: ExerciseRecord) -> Draft | None:
        """What was typed so far, if anything."""
        query = select(drafts.c.text, drafts.c.updated_at).where(
            drafts.c.learner_id == learner.id, drafts.c.exercise_id == exercise.id
        )
        with self._database.reading() as connection:
            row = connection.execute(query).mappings().first()
        return Draft(**row) if row else None

    def latest(self, learner: Learner) -> tuple[str, Draft] | None:
        """The exercise last worked on and not handed in: its id and what was typed."""
        query = (
            select(drafts.c.exercise_id, drafts.c.text, drafts.c.updated_at)
            .where(drafts.c.learner_id == learner.id)
            .order_by(drafts.c.updated_at.desc())
            .limit(1)
        )
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return (row.exercise_id, Draft(row.text, row.updated_at)) if row else None

    def clear(self, learner: Learner, exercise: ExerciseRecord) -> None:
        """Throw the draft away."""
        with self._database.writing() as connection:
            clear_draft(connection, learner.id, exercise.id)


def clear_draft(connection: Connection, learner_id: int, exercise_id: str) -> None:
    """Do `Drafts.clear` within a transaction."""
    mine = (drafts.c.learner_id == learner_id, drafts.c.exercise_id == exercise_id)
    connection.execute(delete(drafts).where(*mine))
