"""What is known of a learner's skills: kept up to date attempt by attempt, or made anew.

Attempts are taken in the order in which they were stored, each in its own transaction; so what
stands here is what taking them all in again gives. It is made anew when there is none yet (a file
of an older version) or when it was made by another `trainer.practice.MODEL_VERSION`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from types import MappingProxyType
from typing import Any

from sqlalchemy import Connection, Row, delete, func, select, tuple_

from trainer.practice import (
    MODEL_VERSION,
    Evidence,
    LearnerState,
    Memory,
    Rating,
    SkillState,
    SpeedResult,
    gather,
    is_speed_test,
    rating,
    situation_of,
    speed_result,
    update_state,
)
from trainer.store.bars import BATCH, stored_bars
from trainer.store.database import Database, day_stretch, upsert
from trainer.store.exercises import asked
from trainer.store.records import BarResult, Learner, RatingDay
from trainer.store.tables import (
    attempts,
    exercises,
    learners,
    practice_states,
    rating_days,
    skill_states,
    speed_results,
)

__all__ = ["Ratings", "take_in"]

OWN = (practice_states, skill_states, rating_days, speed_results)


class Ratings:
    """The ratings of a store's learners."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def state(self, learner: Learner) -> LearnerState:
        """All that is known of a learner now."""
        with self._database.reading() as connection:
            found = _read_state(connection, learner.id)
            if found is not None or not _has_attempts(connection, learner.id):
                return found or LearnerState.fresh()
        self.rebuild(learner)
        with self._database.reading() as connection:
            return _read_state(connection, learner.id) or LearnerState.fresh()

    def days(
        self, learner: Learner, since: date | None = None, until: date | None = None
    ) -> tuple[RatingDay, ...]:
        """The ratings of the skills that a day's attempts showed, by day."""
        self.state(learner)
        d = rating_days.c
        query = select(d.day, d.skill, d.mean, d.variance).where(d.learner_id == learner.id)
        if since is not None:
            query = query.where(d.day >= since)
        if until is not None:
            query = query.where(d.day <= until)
        with self._database.reading() as connection:
            rows = connection.execute(query.order_by(d.day, d.skill))
            return tuple(RatingDay(*row) for row in rows)

    def day_stretches(
        self, learner: Learner, skills: Collection[str], since: date, until: date, step: int
    ) -> tuple[RatingDay, ...]:
        """As `days`, but of every `step` days from `since` on the last that showed each skill, of
        some skills only."""
        self.state(learner)
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
            return tuple(RatingDay(*row) for row in connection.execute(query))

    def speed(self, learner: Learner) -> tuple[SpeedResult, ...]:
        """The results of the speed self-test, by time."""
        self.state(learner)
        s = speed_results.c
        query = select(s.protocol, s.at, s.kept_up, s.right, s.lag_beats)
        query = query.where(s.learner_id == learner.id).order_by(s.at, s.attempt_id)
        with self._database.reading() as connection:
            return tuple(SpeedResult(*row) for row in connection.execute(query))

    def rebuild(self, learner: Learner) -> int:
        """Make everything anew from the attempts, in one transaction; how many there were."""
        with self._database.writing() as connection:
            return _rebuild(connection, learner.id)


def take_in(connection: Connection, learner_id: int, attempt_id: int) -> None:
    """Take in an attempt that was just stored, within its transaction."""
    # Two writers of a class server must not take in two attempts of one learner at once.
    connection.execute(select(learners.c.id).where(learners.c.id == learner_id).with_for_update())
    state = _read_state(connection, learner_id)
    if state is None:
        _rebuild(connection, learner_id)
        return
    taken = _Taken(state)
    for each in _stored(connection, learner_id, attempt_id):
        taken.take(each)
    taken.write(connection, learner_id)


@dataclass(frozen=True, slots=True)
class _Attempt:
    """An attempt as far as it shows anything."""

    id: int
    day: date
    evidence: Evidence
    speed: SpeedResult | None


class _Taken:
    """A state with what has changed since it was read."""

    def __init__(self, state: LearnerState) -> None:
        self.state = state
        self.skills: set[str] = set()
        self.days: dict[tuple[date, str], Rating] = {}
        self.speeds: list[tuple[int, SpeedResult]] = []

    def take(self, attempt: _Attempt) -> None:
        self.state = update_state(self.state, attempt.evidence)
        shown = {skill for bar in attempt.evidence.bars for skill, _ in bar.shown}
        self.skills |= shown
        for skill in shown:
            self.days[attempt.day, skill] = rating(self.state, skill)
        if attempt.speed is not None:
            self.speeds.append((attempt.id, attempt.speed))

    def write(self, connection: Connection, learner_id: int) -> None:
        state, own = self.state, {"learner_id": learner_id}
        whole = own | {
            "model": MODEL_VERSION,
            "attempts": state.attempts,
            "last_at": state.last_at,
            "general": state.general.mean,
            "general_variance": state.general.variance,
            "weights": [list(weight) for weight in state.weights],
        }
        _replace(connection, practice_states, [whole])
        _replace(
            connection,
            skill_states,
            [own | _skill_row(skill, state.skills[skill]) for skill in sorted(self.skills)],
        )
        _replace(
            connection,
            rating_days,
            [
                own | {"day": day, "skill": skill, "mean": mean, "variance": variance}
                for (day, skill), (mean, variance) in sorted(self.days.items())
            ],
        )
        _replace(
            connection,
            speed_results,
            [own | {"attempt_id": number} | _speed_row(each) for number, each in self.speeds],
        )


def _replace(connection: Connection, table: Any, rows: Sequence[Mapping[str, Any]]) -> None:
    keys = {column.name for column in table.primary_key}
    names = [column.name for column in table.c if column.name not in keys]
    upsert(connection, table, rows, replace=names)


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


def _speed_row(result: SpeedResult) -> dict[str, Any]:
    names = ("protocol", "at", "kept_up", "right", "lag_beats")
    return {name: getattr(result, name) for name in names}


def _has_attempts(connection: Connection, learner_id: int) -> bool:
    query = select(attempts.c.id).where(attempts.c.learner_id == learner_id).limit(1)
    return connection.execute(query).first() is not None


def _read_state(connection: Connection, learner_id: int) -> LearnerState | None:
    """The state that is kept; None if there is none of the present model."""
    p, s = practice_states.c, skill_states.c
    row = connection.execute(select(practice_states).where(p.learner_id == learner_id)).first()
    if row is None or row.model != MODEL_VERSION:
        return None
    found = connection.execute(select(skill_states).where(s.learner_id == learner_id))
    skills = {each.skill: _skill(each) for each in found}
    return replace(
        LearnerState.fresh(),
        general=Rating(row.general, row.general_variance),
        weights=tuple(Rating(mean, variance) for mean, variance in row.weights),
        skills=MappingProxyType(skills),
        attempts=row.attempts,
        last_at=row.last_at,
    )


def _skill(row: Row[Any]) -> SkillState:
    memory = Memory(row.state, row.step, row.stability_days, row.difficulty, row.due, row.last_at)
    return SkillState(row.own, row.variance, row.bars, row.credit, memory)


def _rebuild(connection: Connection, learner_id: int) -> int:
    """Do `Ratings.rebuild` within a transaction."""
    for table in OWN:
        connection.execute(delete(table).where(table.c.learner_id == learner_id))
    taken = _Taken(LearnerState.fresh())
    for each in _stored(connection, learner_id):
        taken.take(each)
    taken.write(connection, learner_id)
    return taken.state.attempts


def _stored(
    connection: Connection, learner_id: int, attempt_id: int | None = None
) -> Iterator[_Attempt]:
    """A learner's attempts, or one of them, in the order in which they were stored."""
    a = attempts.c
    columns = (a.id, a.day, a.finished_at, a.listens, a.paused, a.tempo_ratio, a.home_shift)
    query = select(*columns, exercises.c.data).join(exercises, a.exercise_id == exercises.c.id)
    query = query.where(a.learner_id == learner_id).order_by(a.id)
    if attempt_id is not None:
        query = query.where(a.id == attempt_id)
    for rows in connection.execute(query).partitions(BATCH):
        bars = stored_bars(connection, [row.id for row in rows])
        for row in rows:
            yield _shown(row, bars[row.id])


def _shown(row: Any, bars: Sequence[BarResult]) -> _Attempt:
    """What an attempt shows."""
    recipe, chart = row.data.get("recipe") or {}, row.data["chart"]
    written = [bar for s in chart["sections"] for phrase in s["phrases"] for bar in phrase["bars"]]
    situation = situation_of(
        recipe,
        float(chart.get("tempo") or 100.0),
        len(written),
        len(_chords(written)),
        tempo_ratio=row.tempo_ratio,
    )
    evidence = gather(
        # What nobody listened to shows nothing of what is heard.
        bars if row.listens else (),
        situation,
        row.finished_at,
        ask=asked(row.data),
        home_shift=row.home_shift,
    )
    speed = None
    if is_speed_test(recipe):
        beats = float(str(chart["meter"]).partition("/")[0])
        speed = speed_result(
            bars,
            beats,
            row.finished_at,
            listens=row.listens,
            paused=row.paused,
            tempo_ratio=row.tempo_ratio,
        )
    return _Attempt(row.id, row.day, evidence, speed)


def _chords(bars: Iterable[Mapping[str, Any]]) -> set[str]:
    """The different chords of some bars, without extension and bass."""
    names = (event["chord"] for bar in bars for event in bar["events"])
    return {name.partition("/")[0].partition("^")[0] for name in names if name}
