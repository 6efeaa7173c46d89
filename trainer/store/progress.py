"""What the progress page asks, read from the sums by day."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from sqlalchemy import Column, ColumnElement, Integer, Table, cast, delete, func, select

from trainer.practice import Tally
from trainer.store.database import Database, day_stretch, upsert
from trainer.store.records import ConfusionCount, DayRecord, Learner, SkillDay
from trainer.store.tables import attempts, confusion_days, skill_days

__all__ = ["Progress"]


class Progress:
    """Sums of what was stored. `since` and `until` are days, both included, None for no limit."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def skills(
        self, learner: Learner, since: date | None = None, until: date | None = None
    ) -> tuple[SkillDay, ...]:
        """The evidence per skill and day, by day."""
        s = skill_days.c
        query = (
            select(s.day, s.skill, s.bars, s.score_sum, s.right)
            .where(*_within(skill_days, learner, since, until))
            .order_by(s.day, s.skill)
        )
        with self._database.reading() as connection:
            return tuple(SkillDay(*row) for row in connection.execute(query))

    def skill_stretches(
        self, learner: Learner, since: date, until: date, step: int
    ) -> tuple[SkillDay, ...]:
        """As `skills`, summed over `step` days each, from `since` on, under their first day."""
        s = skill_days.c
        with self._database.reading() as connection:
            piece = day_stretch(connection, s.day, since, step)
            query = (
                select(piece, s.skill, *(func.sum(each) for each in (s.bars, s.score_sum, s.right)))
                .where(*_within(skill_days, learner, since, until))
                .group_by(piece, s.skill)
                .order_by(piece, s.skill)
            )
            return tuple(
                SkillDay(since + timedelta(days=step * number), *rest)
                for number, *rest in connection.execute(query)
            )

    def confusions(
        self, learner: Learner, since: date | None = None, until: date | None = None
    ) -> tuple[ConfusionCount, ...]:
        """How often each thing played was written as what, most often first."""
        c = confusion_days.c
        chords = func.sum(c.chords)
        query = (
            select(c.played, c.written, chords)
            .where(*_within(confusion_days, learner, since, until))
            .group_by(c.played, c.written)
            .order_by(chords.desc(), c.played, c.written)
        )
        with self._database.reading() as connection:
            return tuple(
                ConfusionCount(row[0], row[1], int(row[2])) for row in connection.execute(query)
            )

    def days(
        self, learner: Learner, since: date | None = None, until: date | None = None
    ) -> tuple[DayRecord, ...]:
        """What was done each day, by day, over the attempts whose results are shown; days without
        any are left out."""
        a = attempts.c
        query = (
            select(
                a.day,
                func.count(),
                func.sum(a.duration_s) / 60,
                func.avg(a.score),
                func.sum(cast(a.first_pass, Integer)),
                func.avg(a.lag_beats),
            )
            .where(*_within(attempts, learner, since, until), a.hidden_until.is_(None))
            .group_by(a.day)
            .order_by(a.day)
        )
        with self._database.reading() as connection:
            return tuple(DayRecord(*row) for row in connection.execute(query))

    def add(self, learner: Learner, day: date, tally: Tally) -> None:
        """Add an attempt's sums to those of its day.

        Rows are written in order, so that two writers cannot block each other.
        """
        key = {"learner_id": learner.id, "day": day}
        names = ("bars", "score_sum", "right")
        skills = [
            {**key, "skill": skill, **dict(zip(names, values, strict=True))}
            for skill, values in sorted(tally.skills.items())
        ]
        pairs = [
            {**key, "played": played, "written": written, "chords": chords}
            for (played, written), chords in sorted(tally.chords.items())
        ]
        with self._database.writing() as connection:
            upsert(connection, skill_days, skills, add=names)
            upsert(connection, confusion_days, pairs, add=("chords",))

    def clear(self, learner: Learner) -> None:
        """Remove a learner's sums, before they are made again from the attempts."""
        with self._database.writing() as connection:
            for table in (skill_days, confusion_days):
                connection.execute(delete(table).where(table.c.learner_id == learner.id))


def _within(
    table: Table, learner: Learner, since: date | None, until: date | None
) -> list[ColumnElement[bool]]:
    day: Column[Any] = table.c.day
    limits = [table.c.learner_id == learner.id]
    if since is not None:
        limits.append(day >= since)
    if until is not None:
        limits.append(day <= until)
    return limits
