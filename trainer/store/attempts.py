"""Attempts: handed in whole, read back newest first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, Row, func, insert, select

from trainer import __version__
from trainer.store.bars import BATCH, Sums, add_bars, add_days, read_bars, stored_bars
from trainer.store.database import Database
from trainer.store.drafts import clear_draft
from trainer.store.exercises import asked, find_exercise
from trainer.store.ratings import take_in
from trainer.store.records import (
    AttemptDetail,
    AttemptRecord,
    BarResult,
    ExerciseRecord,
    Learner,
    LevelBest,
    Sitting,
    as_utc,
)
from trainer.store.seats import clear_seat
from trainer.store.sets import finish_item
from trainer.store.tables import attempts, exercises, papers

__all__ = ["Attempts", "add_attempt"]

Json = Mapping[str, Any]

_WITH_EXERCISE = select(attempts, exercises.c.title, exercises.c.origin).join(
    exercises, attempts.c.exercise_id == exercises.c.id
)


class Attempts:
    """The attempts of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def record(
        self,
        learner: Learner,
        exercise: ExerciseRecord,
        answer_text: str,
        report: Json,
        sitting: Sitting,
        now: datetime,
        *,
        answer_chart: Json | None = None,
        bar_skills: Sequence[Iterable[str]] = (),
        token: str | None = None,
    ) -> AttemptRecord:
        """Store an attempt with its bars and sums and drop the draft: all of it or nothing.

        Parameters
        ----------
        exercise : as `Exercises.keep` gave it.
        report : what `trainer.grade.report_to_json` makes.
        sitting : how it was made; `now` is when it was finished.
        answer_chart : the CHART that was read from the text, if it could be read.
        bar_skills : names of the skills each bar of the reference is evidence for.
        token : names this handing-in; the same token again gives the attempt stored first.

        Raises
        ------
        ValueError
            If a time is naive or the report does not fit the charts.
        StoreError
            If it cannot be stored; the draft is then still there.
        """
        bars = read_bars(report, exercise.chart, answer_chart, bar_skills, sitting.lag_beats)
        row = _attempt_row(learner, exercise, report, sitting, as_utc(now, "now"), bars)
        row |= {"app_version": __version__, "token": token}
        with self._database.writing() as connection:
            known = _find_token(connection, learner.id, token)
            attempt_id = known or add_attempt(connection, row, answer_text, report, bars)
            clear_draft(connection, learner.id, exercise.id)
            clear_seat(connection, learner.id, exercise.id)
            found = connection.execute(_WITH_EXERCISE.where(attempts.c.id == attempt_id)).one()
        return _record(found)

    def find_token(self, learner: Learner, token: str) -> int | None:
        """The id of the attempt that was handed in under that name, if there is one."""
        with self._database.reading() as connection:
            return _find_token(connection, learner.id, token)

    def history(
        self, learner: Learner, limit: int = 50, offset: int = 0, level: int | None = None
    ) -> tuple[AttemptRecord, ...]:
        """A learner's attempts, newest first, perhaps on one level only."""
        query = _WITH_EXERCISE.where(attempts.c.learner_id == learner.id)
        if level is not None:
            query = query.where(attempts.c.level == level)
        query = query.order_by(attempts.c.finished_at.desc(), attempts.c.id.desc())
        with self._database.reading() as connection:
            rows = connection.execute(query.limit(limit).offset(offset))
            return tuple(map(_record, rows))

    def count(self, learner: Learner, level: int | None = None) -> int:
        """How many attempts `history` has in all."""
        query = select(func.count()).where(attempts.c.learner_id == learner.id)
        if level is not None:
            query = query.where(attempts.c.level == level)
        with self._database.reading() as connection:
            return connection.execute(query).scalar_one()

    def get(self, attempt_id: int) -> AttemptDetail | None:
        """An attempt with all that belongs to it; whose it is says `record.learner_id`."""
        with self._database.reading() as connection:
            found = connection.execute(_WITH_EXERCISE.where(attempts.c.id == attempt_id)).first()
            if found is None:
                return None
            paper = connection.execute(select(papers).where(papers.c.attempt_id == attempt_id))
            _, answer_text, report = paper.one()
            exercise = find_exercise(connection, found.exercise_id)
            bars = stored_bars(connection, [attempt_id])[attempt_id]
        assert exercise is not None
        return AttemptDetail(_record(found), exercise, answer_text, report, bars)

    def best_by_level(self, learner: Learner) -> Mapping[int, LevelBest]:
        """The best score on every level tried, of charts of what was listened to."""
        a = attempts.c
        query = (
            select(a.level, func.max(a.score), func.count(), func.max(a.finished_at))
            .where(a.learner_id == learner.id, a.level.is_not(None), a.listens > 0)
            .group_by(a.level)
            .order_by(a.level)
        )
        with self._database.reading() as connection:
            return {row[0]: LevelBest(*row) for row in connection.execute(query)}

    def log(self, learner: Learner) -> Iterator[tuple[AttemptRecord, tuple[BarResult, ...]]]:
        """Every attempt with its bars, oldest first: all that progress is rebuilt from."""
        query = _WITH_EXERCISE.where(attempts.c.learner_id == learner.id)
        query = query.order_by(attempts.c.finished_at, attempts.c.id)
        with self._database.reading() as connection:
            for rows in connection.execute(query).partitions(BATCH):
                bars = stored_bars(connection, [row.id for row in rows])
                for row in rows:
                    yield _record(row), bars[row.id]


def add_attempt(
    connection: Connection,
    row: Mapping[str, Any],
    answer_text: str,
    report: Json,
    bars: Sequence[BarResult],
) -> int:
    """Write an attempt's row, papers, bars and sums within a transaction; return its id."""
    result = connection.execute(insert(attempts).values(row).returning(attempts.c.id))
    attempt_id: int = result.scalar_one()
    paper = {"attempt_id": attempt_id, "answer_text": answer_text, "report": dict(report)}
    connection.execute(insert(papers).values(paper))
    add_bars(connection, attempt_id, bars)
    if row["listens"]:
        exercise = find_exercise(connection, row["exercise_id"])
        assert exercise is not None
        sums = Sums(bars, asked(exercise.data), row.get("home_shift"))
        add_days(connection, row["learner_id"], row["day"], sums)
    take_in(connection, row["learner_id"], attempt_id)
    finish_item(connection, row["learner_id"], row["exercise_id"], row["finished_at"])
    return attempt_id


def _attempt_row(
    learner: Learner,
    exercise: ExerciseRecord,
    report: Json,
    sitting: Sitting,
    finished_at: datetime,
    bars: Sequence[BarResult],
) -> dict[str, Any]:
    started_at = as_utc(sitting.started_at, "started_at")
    # What was written before it sounded makes nothing else less late.
    lags = [max(0.0, bar.lag_beats) for bar in bars if bar.lag_beats is not None]
    worked_s = sitting.worked_s
    if worked_s is None:
        # A clock set back in between must not make time negative.
        worked_s = max(0.0, (finished_at - started_at).total_seconds())
    return {
        "learner_id": learner.id,
        "exercise_id": exercise.id,
        "level": exercise.level,
        "started_at": started_at,
        "finished_at": finished_at,
        "day": sitting.day or finished_at.date(),
        "duration_s": worked_s,
        "score": float(report["score"]),
        "bars": sum(bar.reference is not None for bar in bars),
        "listens": sitting.listens,
        "paused": sitting.paused,
        "tempo_ratio": sitting.tempo_ratio,
        "first_pass": sitting.first_pass,
        "lag_beats": sum(lags) / len(lags) if lags else None,
        "home_shift": (report.get("home_shift") or {}).get("kind"),
    }


def _find_token(connection: Connection, learner_id: int, token: str | None) -> int | None:
    if token is None:
        return None
    mine = (attempts.c.learner_id == learner_id, attempts.c.token == token)
    return connection.execute(select(attempts.c.id).where(*mine)).scalar()


def _record(row: Row[Any]) -> AttemptRecord:
    return AttemptRecord(**row._mapping)  # noqa: SLF001 - SQLAlchemy's public name for it
