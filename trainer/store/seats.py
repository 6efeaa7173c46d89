"""Exercises being written: what was listened to, how long was worked, what names the handing-in."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from sqlalchemy import ColumnElement, Connection, delete, select

from trainer.store.database import Database, upsert
from trainer.store.records import ExerciseRecord, Learner, Seat, as_utc
from trainer.store.tables import seats

__all__ = ["Seats", "clear_seat", "touch_seat"]


class Seats:
    """At most one seat for a learner and an exercise; it is given up when the attempt is in."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def find(self, learner: Learner, exercise: ExerciseRecord) -> Seat | None:
        """The seat of a learner at an exercise, if there is one."""
        with self._database.reading() as connection:
            return _find(connection, learner.id, exercise.id)

    def take(self, learner: Learner, exercise: ExerciseRecord, token: str, now: datetime) -> Seat:
        """The seat of a learner at an exercise; taken now, with `token`, if there was none."""
        found = self.find(learner, exercise)
        if found is not None:
            return found
        seat = _fresh(token, now)
        with self._database.writing() as connection:
            _write(connection, learner.id, exercise.id, seat, replacing=False)
            # Another window may have taken it meanwhile.
            return _find(connection, learner.id, exercise.id) or seat

    def listen(
        self,
        learner: Learner,
        exercise: ExerciseRecord,
        speed: int,
        allowed: int,
        token: str,
        now: datetime,
    ) -> Seat | None:
        """Count a listen at `speed` per cent of the tempo. None, and not counted, if none of
        those `allowed` (0: no limit) is left.
        """
        with self._database.writing() as connection:
            seat = _find(connection, learner.id, exercise.id) or _fresh(token, now)
            if allowed and seat.listens >= allowed:
                return None
            seat = replace(_touched(seat, now), speeds=(*seat.speeds, speed))
            _write(connection, learner.id, exercise.id, seat, replacing=True)
        return seat


def touch_seat(connection: Connection, learner_id: int, exercise_id: str, now: datetime) -> None:
    """Note within a transaction that work goes on."""
    seat = _find(connection, learner_id, exercise_id)
    if seat is not None:
        _write(connection, learner_id, exercise_id, _touched(seat, now), replacing=True)


def clear_seat(connection: Connection, learner_id: int, exercise_id: str) -> None:
    """Give the seat up within a transaction."""
    connection.execute(delete(seats).where(*_at(learner_id, exercise_id)))


def _fresh(token: str, now: datetime) -> Seat:
    moment = as_utc(now, "now")
    return Seat(moment, token, (), 0.0, moment)


def _touched(seat: Seat, now: datetime) -> Seat:
    return replace(seat, worked_s=seat.worked_until(now), seen_at=as_utc(now, "now"))


def _at(learner_id: int, exercise_id: str) -> tuple[ColumnElement[bool], ...]:
    return (seats.c.learner_id == learner_id, seats.c.exercise_id == exercise_id)


def _find(connection: Connection, learner_id: int, exercise_id: str) -> Seat | None:
    s = seats.c
    query = select(s.started_at, s.token, s.speeds, s.worked_s, s.seen_at)
    row = connection.execute(query.where(*_at(learner_id, exercise_id))).first()
    if row is None:
        return None
    return Seat(row.started_at, row.token, tuple(row.speeds), row.worked_s, row.seen_at)


def _write(
    connection: Connection, learner_id: int, exercise_id: str, seat: Seat, *, replacing: bool
) -> None:
    row = {
        "learner_id": learner_id,
        "exercise_id": exercise_id,
        "started_at": seat.started_at,
        "token": seat.token,
        "speeds": list(seat.speeds),
        "worked_s": seat.worked_s,
        "seen_at": seat.seen_at,
    }
    changing = ("speeds", "worked_s", "seen_at") if replacing else ()
    upsert(connection, seats, [row], replace=changing)
