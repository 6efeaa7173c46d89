"""Ratings as they were last worked out: the state of a learner's skills, by day, and speed tests.

`trainer.drill.ratings` works these out from the attempts and can do so again at any time. What
another `trainer.practice.MODEL_VERSION` made is not read.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace
from datetime import date
from types import MappingProxyType
from typing import Any

from sqlalchemy import Row, Table, delete, exists, func, select, tuple_

from trainer.errors import StoreBroken
from trainer.practice import MODEL_VERSION, LearnerState, Memory, Rating, SkillState, SpeedResult
from trainer.store.database import Database, day_stretch, upsert
from trainer.store.records import Learner, RatingDay, RatingUpdate
from trainer.store.tables import (
    attempts,
    learners,
    practice_states,
    rating_days,
    skill_states,
    speed_results,
)

__all__ = ["Ratings"]

OWN = (practice_states, skill_states, rating_days, speed_results)


class Ratings:
    """The ratings of a store's learners."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def state(self, learner: Learner) -> LearnerState | None:
        """What is known of a learner; None if nothing is stored by the present model."""
        p, s = practice_states.c, skill_states.c
        with self._database.reading() as connection:
            found = connection.execute(select(practice_states).where(p.learner_id == learner.id))
            row = found.first()
            if row is None or row.model != MODEL_VERSION:
                return None
            rows = connection.execute(select(skill_states).where(s.learner_id == learner.id))
            skills = {each.skill: _skill(each) for each in rows}
        fresh = LearnerState.fresh()
        if len(row.weights) != len(fresh.weights):
            raise StoreBroken(
                f"practice_states.weights: found {len(row.weights)} weights, expected "
                f"{len(fresh.weights)}"
            )
        return replace(
            fresh,
            general=Rating(row.general, row.general_variance),
            weights=tuple(Rating(mean, variance) for mean, variance in row.weights),
            skills=MappingProxyType(skills),
            attempts=row.attempts,
            last_at=row.last_at,
        )

    def outdated(self) -> tuple[Learner, ...]:
        """The learners with attempts of whom nothing is stored by the present model."""
        p = practice_states.c
        rated = exists().where(p.learner_id == learners.c.id, p.model == MODEL_VERSION)
        tried = exists().where(attempts.c.learner_id == learners.c.id)
        query = select(learners).where(tried, ~rated).order_by(learners.c.id)
        with self._database.reading() as connection:
            return tuple(Learner(**row) for row in connection.execute(query).mappings())

    def save(self, learner: Learner, change: RatingUpdate) -> None:
        """Store what attempts changed."""
        state, own = change.state, {"learner_id": learner.id}
        whole = own | {
            "model": MODEL_VERSION,
            "attempts": state.attempts,
            "last_at": state.last_at,
            "general": state.general.mean,
            "general_variance": state.general.variance,
            "weights": [list(weight) for weight in state.weights],
        }
        skills = [own | _skill_row(name, state.skills[name]) for name in sorted(change.skills)]
        days = [
            own | {"day": day, "skill": skill, "mean": mean, "variance": variance}
            for (day, skill), (mean, variance) in sorted(change.days.items())
        ]
        speeds = [own | {"attempt_id": id_} | _speed_row(each) for id_, each in change.speeds]
        with self._database.writing() as connection:
            for table, rows in (
                (practice_states, [whole]),
                (skill_states, skills),
                (rating_days, days),
                (speed_results, speeds),
            ):
                upsert(connection, table, rows, replace=_values_of(table))

    def clear(self, learner: Learner) -> None:
        """Remove a learner's ratings, before they are made again from the attempts."""
        with self._database.writing() as connection:
            for table in OWN:
                connection.execute(delete(table).where(table.c.learner_id == learner.id))

    def days(
        self, learner: Learner, since: date | None = None, until: date | None = None
    ) -> tuple[RatingDay, ...]:
        """The ratings of the skills that a day's attempts showed, by day."""
        d = rating_days.c
        query = select(d.day, d.skill, d.mean, d.variance).where(d.learner_id == learner.id)
        if since is not None:
            query = query.where(d.day >= since)
        if until is not None:
            query = query.where(d.day <= until)
        with self._database.reading() as connection:
            return _rating_days(connection.execute(query.order_by(d.day, d.skill)))

    def day_stretches(
        self, learner: Learner, skills: Collection[str], since: date, until: date, step: int
    ) -> tuple[RatingDay, ...]:
        """As `days`, but of every `step` days from `since` on the last that showed each skill, of
        some skills only."""
        d = rating_days.c
        mine = (d.learner_id == learner.id, d.day >= since, d.day <= until, d.skill.in_(skills))
        with self._database.reading() as connection:
            piece = day_stretch(connection, d.day, since, step)
            last = select(func.max(d.day), d.skill).where(*mine).group_by(piece, d.skill)
            query = (
                select(d.day, d.skill, d.mean, d.variance)
                .where(d.learner_id == learner.id, tuple_(d.day, d.skill).in_(last))
                .order_by(d.day, d.skill)
            )
            return _rating_days(connection.execute(query))

    def speed(self, learner: Learner) -> tuple[SpeedResult, ...]:
        """The results of the speed self-test, by time."""
        s = speed_results.c
        query = select(s.protocol, s.at, s.kept_up, s.right, s.lag_beats)
        query = query.where(s.learner_id == learner.id).order_by(s.at, s.attempt_id)
        with self._database.reading() as connection:
            return tuple(SpeedResult(*row) for row in connection.execute(query))


def _rating_days(rows: Iterable[Any]) -> tuple[RatingDay, ...]:
    return tuple(RatingDay(*row) for row in rows)


def _values_of(table: Table) -> list[str]:
    """The columns of a table that are not part of its key."""
    keys = {column.name for column in table.primary_key}
    return [column.name for column in table.c if column.name not in keys]


def _skill_row(name: str, skill: SkillState) -> dict[str, Any]:
    memory = skill.memory
    return {
        "skill": name,
        "own": skill.own,
        "variance": skill.variance,
        "bars": skill.bars,
        "credit": skill.credit,
        "state": memory.state,
        "step": memory.step,
        "stability_days": memory.stability_days,
        "difficulty": memory.difficulty,
        "due": memory.due,
        "last_at": memory.last_at,
    }


def _skill(row: Row[Any]) -> SkillState:
    memory = Memory(row.state, row.step, row.stability_days, row.difficulty, row.due, row.last_at)
    return SkillState(row.own, row.variance, row.bars, row.credit, memory)


def _speed_row(result: SpeedResult) -> dict[str, Any]:
    names = ("protocol", "at", "kept_up", "right", "lag_beats")
    return {name: getattr(result, name) for name in names}
