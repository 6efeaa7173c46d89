"""Daily sets as they were planned, and what became of each item."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Any

from sqlalchemy import ColumnElement, Connection, case, func, insert, select, update

from trainer.practice import Aim
from trainer.store.database import Database
from trainer.store.records import ExerciseRecord, ExerciseSource, Learner, SetItem, as_utc
from trainer.store.tables import attempts, exercises, learners, set_items

__all__ = ["Sets"]

_COLUMNS = [column for column in set_items.c if column.name != "exercise_id"]

MOST_NAMED = 500


class Sets:
    """The daily sets of a store's learners."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def of_day(self, learner: Learner, day: date) -> tuple[SetItem, ...]:
        """The items of all sets of a day, in their order."""
        s = set_items.c
        return self._items(s.learner_id == learner.id, s.day == day)

    def get(self, learner: Learner, item_id: int) -> SetItem | None:
        """A learner's item of that id, if there is one."""
        s = set_items.c
        found = self._items(s.learner_id == learner.id, s.id == item_id)
        return found[0] if found else None

    def sources(
        self, learner: Learner, attempt_ids: Collection[int] | None = None
    ) -> Mapping[str, ExerciseSource]:
        """Where the exercises came from that a learner wrote and that are of no level, by their
        ids; with `attempt_ids`, those of these attempts only."""
        a, e, s = attempts.c, exercises.c, set_items.c
        mine = [a.learner_id == learner.id, a.level.is_(None)]
        if attempt_ids is not None:
            mine.append(a.id.in_(attempt_ids))
        written = select(a.exercise_id).where(*mine)
        set_of = (
            select(
                s.exercise_id, func.max(case((s.kind == "placement", 1), else_=0)).label("placing")
            )
            .where(s.learner_id == learner.id, s.exercise_id.in_(written))
            .group_by(s.exercise_id)
            .subquery()
        )
        query = (
            select(e.id, e.key, e.origin, set_of.c.placing)
            .where(e.id.in_(written))
            .outerjoin(set_of, set_of.c.exercise_id == e.id)
        )
        with self._database.reading() as connection:
            rows = connection.execute(query).all()
            free = [row.id for row in rows if row.placing is None and row.origin != "song"]
            recipes: dict[int, Any] = {}
            for part in _batched(free):
                found = connection.execute(select(e.id, e.data).where(e.id.in_(part)))
                recipes |= {row.id: row.data.get("recipe") or {} for row in found}
        return {
            row.key: ExerciseSource(
                row.origin, row.placing is not None, bool(row.placing), recipes.get(row.id, {})
            )
            for row in rows
        }

    def had_placement(self, learner: Learner) -> bool:
        """Whether a placement was ever begun."""
        s = set_items.c
        query = select(s.id).where(s.learner_id == learner.id, s.kind == "placement").limit(1)
        with self._database.reading() as connection:
            return connection.execute(query).first() is not None

    def add(
        self, learner: Learner, day: date, aims: Sequence[Aim], now: datetime, after: int
    ) -> tuple[SetItem, ...]:
        """Plan the set that follows set number `after` (0: the day's first) and give its items.

        If another window has planned it meanwhile, that one is given.
        """
        s, number = set_items.c, after + 1
        mine = (s.learner_id == learner.id, s.day == day, s.number == number)
        moment = as_utc(now, "now")
        rows = [
            _row(learner, day, number, position, aim, moment)
            for position, aim in enumerate(aims, 1)
        ]
        with self._database.writing() as connection:
            _lock(connection, learner.id)
            taken = connection.execute(select(func.count()).where(*mine)).scalar_one()
            if not taken and rows:
                connection.execute(insert(set_items), rows)
        return self._items(*mine)

    def extend(self, item: SetItem, aim: Aim, now: datetime) -> SetItem | None:
        """Add an item after the last of a set; None if another window has done so."""
        row = {"learner_id": item.learner_id, "day": item.day, "number": item.number}
        s = set_items.c
        mine = [set_items.c[name] == value for name, value in row.items()]
        with self._database.writing() as connection:
            _lock(connection, item.learner_id)
            last = connection.execute(select(func.max(s.position)).where(*mine)).scalar_one()
            if last != item.position:
                return None
            row |= _aim_row(last + 1, aim, as_utc(now, "now"))
            connection.execute(insert(set_items).values(row))
        return self._items(*mine, s.position == item.position + 1)[0]

    def give(
        self, item: SetItem, exercise: ExerciseRecord, expected: float, minutes: float
    ) -> SetItem:
        """Put the exercise into an item whose turn has come; one that is there stays."""
        s = set_items.c
        values = {"exercise_id": exercise.id, "expected": expected, "minutes": minutes}
        with self._database.writing() as connection:
            free = (s.id == item.id, s.exercise_id.is_(None))
            connection.execute(update(set_items).where(*free).values(values))
        return self._items(s.id == item.id)[0]

    def skip(self, item: SetItem, now: datetime) -> None:
        """Leave an item out; one that is done stays done."""
        s = set_items.c
        values = {"status": "skipped", "changed_at": as_utc(now, "now")}
        with self._database.writing() as connection:
            is_open = (s.id == item.id, s.status == "open")
            connection.execute(update(set_items).where(*is_open).values(values))

    def finish(self, learner: Learner, exercise: ExerciseRecord, at: datetime) -> None:
        """Mark what was set for an exercise as done."""
        s = set_items.c
        mine = (s.learner_id == learner.id, s.exercise_id == exercise.id, s.status != "done")
        values = {"status": "done", "changed_at": as_utc(at, "at")}
        with self._database.writing() as connection:
            connection.execute(update(set_items).where(*mine).values(values))

    def _items(self, *where: ColumnElement[bool]) -> tuple[SetItem, ...]:
        s = set_items.c
        query = (
            select(*_COLUMNS, exercises.c.key.label("exercise_id"))
            .outerjoin(exercises, s.exercise_id == exercises.c.id)
            .where(*where)
            .order_by(s.day, s.number, s.position)
        )
        with self._database.reading() as connection:
            return tuple(map(_item, connection.execute(query)))


def _lock(connection: Connection, learner_id: int) -> None:
    """Have other windows of this learner wait until the end of the transaction."""
    connection.execute(select(learners.c.id).where(learners.c.id == learner_id).with_for_update())


def _batched(ids: Sequence[int]) -> Iterator[Sequence[int]]:
    """Ids in as many at a time as a query may name."""
    return (ids[start : start + MOST_NAMED] for start in range(0, len(ids), MOST_NAMED))


def _row(
    learner: Learner, day: date, number: int, position: int, aim: Aim, at: datetime
) -> dict[str, Any]:
    return {
        "learner_id": learner.id,
        "day": day,
        "number": number,
        **_aim_row(position, aim, at),
    }


def _aim_row(position: int, aim: Aim, at: datetime) -> dict[str, Any]:
    return {
        "position": position,
        "kind": aim.kind,
        "skills": list(aim.skills),
        "reason": aim.reason,
        "status": "open",
        "changed_at": at,
    }


def _item(row: Any) -> SetItem:
    values = dict(row._mapping)  # noqa: SLF001 - SQLAlchemy's public name for it
    return SetItem(**values | {"skills": tuple(row.skills)})
