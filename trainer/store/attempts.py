"""Attempts: stored whole, read back newest first."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import fields, replace
from datetime import datetime
from typing import Any

from sqlalchemy import Connection, case, func, insert, or_, select, update

from trainer.grade import Report, report_to_json
from trainer.practice import GradedBar
from trainer.store.database import Database
from trainer.store.exercises import read_exercise
from trainer.store.records import (
    AttemptDetail,
    AttemptRecord,
    ExerciseRecord,
    Learner,
    LevelBest,
    NewAttempt,
    StoredAttempt,
    as_utc,
)
from trainer.store.tables import attempts, bar_results, exercises, seen_songs, submissions

__all__ = ["Attempts"]

# Attempts whose bars are read at once.
BATCH = 200
_BAR_FIELDS = tuple(field.name for field in fields(GradedBar))
_FIELDS = tuple(field.name for field in fields(AttemptRecord))
# What stands in an attempt's own row, but for its id and its exercise.
_OWN = tuple(name for name in _FIELDS if name in attempts.c and name not in ("id", "exercise_id"))
_COLUMNS = [column for column in attempts.c if column.name != "exercise_id"]
_WITH_EXERCISE = select(
    *_COLUMNS, exercises.c.key.label("exercise_id"), exercises.c.title, exercises.c.origin
).join(exercises, attempts.c.exercise_id == exercises.c.id)


class Attempts:
    """The attempts of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, learner: Learner, exercise: ExerciseRecord, attempt: NewAttempt) -> AttemptRecord:
        """Store an attempt with its text, report and bars.

        What follows from it (ratings, sums, sets) is stored by the caller, in one transaction with
        this.

        Raises
        ------
        ValueError
            If a time is naive.
        StoreError
            If it cannot be stored, or its token is that of an attempt on record.
        """
        record = _new_record(learner, exercise, attempt)
        row = {name: getattr(record, name) for name in _OWN} | {"exercise_id": exercise.id}
        with self._database.writing() as connection:
            result = connection.execute(insert(attempts).values(row).returning(attempts.c.id))
            attempt_id: int = result.scalar_one()
            submission = {
                "attempt_id": attempt_id,
                "answer_text": attempt.answer_text,
                "report": _report_json(attempt.report),
            }
            connection.execute(insert(submissions).values(submission))
            _add_bars(connection, attempt_id, attempt.bars)
        return replace(record, id=attempt_id)

    def find_token(self, learner: Learner, token: str) -> int | None:
        """The id of the attempt that was submitted under that token, if there is one."""
        mine = (attempts.c.learner_id == learner.id, attempts.c.token == token)
        with self._database.reading() as connection:
            return connection.execute(select(attempts.c.id).where(*mine)).scalar()

    def has_seen(self, learner: Learner, song: str, now: datetime) -> bool:
        """Whether a result, or the songbook, has shown the learner the chart of the song with that
        digest."""
        e, hidden_until = exercises.c, attempts.c.hidden_until
        query = (
            select(attempts.c.id)
            .join(exercises, attempts.c.exercise_id == e.id)
            .where(
                e.owner_id == learner.id,
                e.song == song,
                or_(hidden_until.is_(None), hidden_until <= as_utc(now, "now")),
            )
            .limit(1)
        )
        shown = select(seen_songs.c.song).where(
            seen_songs.c.learner_id == learner.id, seen_songs.c.song == song
        )
        with self._database.reading() as connection:
            return any(connection.execute(each).first() is not None for each in (query, shown))

    def history(
        self, learner: Learner, limit: int = 50, offset: int = 0, level_id: str | None = None
    ) -> tuple[AttemptRecord, ...]:
        """A learner's attempts, newest first, perhaps on one level only."""
        query = _WITH_EXERCISE.where(attempts.c.learner_id == learner.id)
        if level_id is not None:
            query = query.where(attempts.c.level_id == level_id)
        query = query.order_by(attempts.c.finished_at.desc(), attempts.c.id.desc())
        with self._database.reading() as connection:
            rows = connection.execute(query.limit(limit).offset(offset))
            return tuple(map(_record, rows))

    def of_exercises(
        self, learner: Learner, keys: Collection[str], limit: int
    ) -> tuple[AttemptRecord, ...]:
        """A learner's newest attempts at any of some exercises, by the exercises' own ids."""
        query = (
            _WITH_EXERCISE.where(attempts.c.learner_id == learner.id, exercises.c.key.in_(keys))
            .order_by(attempts.c.id.desc())
            .limit(limit)
        )
        with self._database.reading() as connection:
            return tuple(map(_record, connection.execute(query)))

    def count(self, learner: Learner, level_id: str | None = None) -> int:
        """How many attempts `history` has in all."""
        query = select(func.count()).where(attempts.c.learner_id == learner.id)
        if level_id is not None:
            query = query.where(attempts.c.level_id == level_id)
        with self._database.reading() as connection:
            return connection.execute(query).scalar_one()

    def has_any(self, learner: Learner) -> bool:
        """Whether `history` has anything."""
        query = select(attempts.c.id).where(attempts.c.learner_id == learner.id).limit(1)
        with self._database.reading() as connection:
            return connection.execute(query).first() is not None

    def levels(self, learner: Learner) -> frozenset[str]:
        """The ids of the levels that `history` has attempts on."""
        a = attempts.c
        query = select(a.level_id).distinct().where(a.learner_id == learner.id)
        with self._database.reading() as connection:
            found = connection.execute(query.where(a.level_id.is_not(None))).scalars()
            return frozenset(found)

    def get(self, attempt_id: int) -> AttemptDetail | None:
        """An attempt with all that belongs to it; `record.learner_id` says whose it is."""
        with self._database.reading() as connection:
            found = connection.execute(_WITH_EXERCISE.where(attempts.c.id == attempt_id)).first()
            if found is None:
                return None
            query = select(submissions).where(submissions.c.attempt_id == attempt_id)
            submission = connection.execute(query).one()
            exercise = connection.execute(
                select(exercises)
                .join(attempts, attempts.c.exercise_id == exercises.c.id)
                .where(attempts.c.id == attempt_id)
            ).one()
            bars = _stored_bars(connection, [attempt_id])[attempt_id]
        return AttemptDetail(
            _record(found),
            read_exercise(exercise),
            submission.answer_text,
            submission.report,
            bars,
        )

    def hidden(self, learner: Learner, due: datetime | None = None) -> tuple[int, ...]:
        """The attempts of a learner whose results are hidden; with `due`, those alone whose results
        are to be seen by then."""
        a = attempts.c
        query = select(a.id).where(a.learner_id == learner.id, a.hidden_until.is_not(None))
        if due is not None:
            query = query.where(a.hidden_until <= as_utc(due, "now"))
        with self._database.reading() as connection:
            return tuple(connection.execute(query).scalars())

    def release_due(self, learner: Learner, now: datetime) -> int:
        """Let the attempts whose results were hidden until now count; returns how many there were.

        What follows for ratings and sums is worked out by the caller, in one transaction with this.
        """
        a = attempts.c
        due = (a.learner_id == learner.id, a.hidden_until <= as_utc(now, "now"))
        with self._database.writing() as connection:
            found = connection.execute(select(a.id).where(*due)).scalars().all()
            if found:
                releasing = update(attempts).where(a.id.in_(found))
                connection.execute(releasing.values(hidden_until=None))
            return len(found)

    def bars(self, attempt_ids: Sequence[int]) -> Mapping[int, tuple[GradedBar, ...]]:
        """The bars of each of some attempts, in their order."""
        found: dict[int, tuple[GradedBar, ...]] = {}
        with self._database.reading() as connection:
            for start in range(0, len(attempt_ids), BATCH):
                found |= _stored_bars(connection, attempt_ids[start : start + BATCH])
        return found

    def best_by_level(self, learner: Learner) -> Mapping[str, LevelBest]:
        """How every level tried has gone, by its id, over the attempts that count and whose
        results are shown."""
        a = attempts.c
        counting = (a.listens > 0, ~a.seen, a.hidden_until.is_(None))
        mine = (a.learner_id == learner.id, a.level_id.is_not(None), *counting)
        query = (
            select(
                a.level_id,
                func.max(a.score),
                func.count(),
                func.max(a.finished_at),
                func.max(case((a.passed, 1), else_=0)),
            )
            .where(*mine)
            .group_by(a.level_id)
            .order_by(a.level_id)
        )
        with self._database.reading() as connection:
            rows = connection.execute(query).all()
        return {
            level: LevelBest(level, score, count, last_at, bool(passed))
            for level, score, count, last_at, passed in rows
        }

    def log(self, learner: Learner) -> Iterator[StoredAttempt]:
        """Every attempt whose result is shown, in the order in which they were stored: all that
        practice is rebuilt from."""
        mine = (attempts.c.learner_id == learner.id, attempts.c.hidden_until.is_(None))
        query = _WITH_EXERCISE.where(*mine).order_by(attempts.c.id)
        query = query.add_columns(attempts.c.exercise_id.label("kept_id"))
        kept: dict[int, ExerciseRecord] = {}
        with self._database.reading() as connection:
            for rows in connection.execute(query).partitions(BATCH):
                bars = _stored_bars(connection, [row.id for row in rows])
                _read_missing(connection, kept, {row.kept_id for row in rows})
                for row in rows:
                    yield StoredAttempt(_record(row), kept[row.kept_id], bars[row.id])


def _read_missing(connection: Connection, kept: dict[int, ExerciseRecord], ids: set[int]) -> None:
    """Read the exercises of these ids that are not among those kept."""
    wanted = exercises.c.id.in_(ids - kept.keys())
    for row in connection.execute(select(exercises).where(wanted)):
        kept[row.id] = read_exercise(row)


def _new_record(learner: Learner, exercise: ExerciseRecord, attempt: NewAttempt) -> AttemptRecord:
    """The record of an attempt that has no id yet."""
    return AttemptRecord(
        id=0,
        learner_id=learner.id,
        exercise_id=exercise.key,
        level=exercise.exercise.level,
        level_id=exercise.exercise.level_id,
        title=exercise.exercise.chart.title,
        origin=exercise.origin,
        started_at=as_utc(attempt.started_at, "started_at"),
        finished_at=as_utc(attempt.finished_at, "finished_at"),
        day=attempt.day,
        duration_s=attempt.worked_s,
        score=attempt.score,
        bars=sum(bar.reference is not None for bar in attempt.bars),
        listens=attempt.listens,
        paused=attempt.paused,
        tempo_ratio=attempt.tempo_ratio,
        first_pass=attempt.first_pass,
        lag_beats=attempt.lag_beats,
        app_version=attempt.app_version,
        token=attempt.token,
        home_shift=attempt.home_shift,
        seen=attempt.seen,
        passed=attempt.passed,
        hidden_until=attempt.hidden_until,
    )


def _report_json(report: Report | Mapping[str, Any]) -> Mapping[str, Any]:
    return report_to_json(report) if isinstance(report, Report) else report


def _record(row: Any) -> AttemptRecord:
    return AttemptRecord(**{name: getattr(row, name) for name in _FIELDS})


def _add_bars(connection: Connection, attempt_id: int, bars: Sequence[GradedBar]) -> None:
    """Write the bars of an attempt."""
    if bars:
        rows = [
            {"attempt_id": attempt_id, **{name: getattr(bar, name) for name in _BAR_FIELDS}}
            for bar in bars
        ]
        connection.execute(insert(bar_results), rows)


def _stored_bars(
    connection: Connection, attempt_ids: Sequence[int]
) -> dict[int, tuple[GradedBar, ...]]:
    """The bars of each of at most `BATCH` attempts, in their order."""
    columns = [bar_results.c[name] for name in _BAR_FIELDS]
    query = (
        select(bar_results.c.attempt_id, *columns)
        .where(bar_results.c.attempt_id.in_(attempt_ids))
        .order_by(bar_results.c.attempt_id, bar_results.c.position)
    )
    confusions, skills = 1 + _BAR_FIELDS.index("confusions"), 1 + _BAR_FIELDS.index("skills")
    found: dict[int, list[GradedBar]] = {number: [] for number in attempt_ids}
    for row in connection.execute(query):
        values = list(row)
        values[confusions] = tuple((played, written) for played, written in values[confusions])
        values[skills] = tuple(values[skills])
        found[values[0]].append(GradedBar(*values[1:]))
    return {number: tuple(bars) for number, bars in found.items()}
