"""The repository of assignments and their items."""

from __future__ import annotations

import uuid
from collections.abc import Collection, Sequence
from dataclasses import fields, replace
from datetime import datetime
from typing import Any, Literal

from sqlalchemy import ColumnElement, Row, Select, delete, insert, select, update

from trainer.errors import InputError, StoreBroken, StoreError
from trainer.exercise import exercise_from_json, exercise_to_json
from trainer.store.assignment_tables import assignment_items, assignments, class_members
from trainer.store.class_records import Assignment, AssignmentItem, ItemWithSong
from trainer.store.database import Database
from trainer.store.records import as_utc

__all__ = ["Assignments"]

_ASSIGNMENT = tuple(assignments.c[field.name] for field in fields(Assignment))
_ITEM = tuple(assignment_items.c[field.name] for field in fields(AssignmentItem))
_WITH_SONG = tuple(assignment_items.c[field.name] for field in fields(ItemWithSong))
_ITEM_FIELDS = tuple(field.name for field in fields(ItemWithSong))
# What may be stored of an assignment after it was made; the rest says what it is.
_CHANGING = frozenset(
    (
        "title",
        "opens_at",
        "closes_at",
        "late_until",
        "late_cost",
        "scheme",
        "pass_mark",
        "tries",
        "counts",
        "results",
        "shown_at",
    )
)


Lock = Literal["", "stay", "change"]


class Assignments:
    """The assignments of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, assignment: Assignment, items: Sequence[ItemWithSong] = ()) -> Assignment:
        """Store a new assignment with its items; the numbers and uids that they have are passed
        over and new ones given."""
        row = {
            field.name: getattr(assignment, field.name)
            for field in fields(Assignment)
            if field.name not in ("id", "uid")
        }
        row |= {"uid": str(uuid.uuid4()), "made_at": as_utc(assignment.made_at, "made_at")}
        with self._database.writing() as connection:
            made = insert(assignments).values(row).returning(*_ASSIGNMENT)
            found = Assignment(*connection.execute(made).one())
            if items:
                connection.execute(
                    insert(assignment_items), [_item_row(each, found.id) for each in items]
                )
        return found

    def find(self, uid: str) -> Assignment | None:
        """The assignment of that lasting id, if there is one."""
        return self._assignment(assignments.c.uid == uid)

    def get(self, assignment_id: int, *, lock: Lock = "") -> Assignment | None:
        """The assignment of that number; in a transaction kept from other writers with `lock`
        "change", and with "stay" from being changed, which many may ask for at a time."""
        return self._assignment(assignments.c.id == assignment_id, lock)

    def change(self, assignment: Assignment, **values: Any) -> Assignment:
        """Store some values of an assignment in place of those it has."""
        if not values.keys() <= _CHANGING:
            raise ValueError(f"found {sorted(values)}, expected some of {sorted(_CHANGING)}")
        changing = update(assignments).where(assignments.c.id == assignment.id).values(values)
        with self._database.writing() as connection:
            connection.execute(changing)
        return replace(assignment, **values)

    def delete(self, assignment: Assignment) -> None:
        """Remove an assignment with its items and all that was graded for it; the attempts stay in
        the records of the learners."""
        with self._database.writing() as connection:
            connection.execute(delete(assignments).where(assignments.c.id == assignment.id))

    def of_class(self, class_id: int) -> tuple[Assignment, ...]:
        """The assignments of a class, those that are due last first."""
        a = assignments.c
        query = select(*_ASSIGNMENT).where(a.class_id == class_id)
        query = query.order_by(a.closes_at.is_(None).desc(), a.closes_at.desc(), a.id.desc())
        with self._database.reading() as connection:
            return tuple(Assignment(*row) for row in connection.execute(query))

    def open_to(self, account_id: int, now: datetime) -> tuple[Assignment, ...]:
        """The assignments that have opened in the classes in which an account learns, those that
        are due first first."""
        a, m = assignments.c, class_members.c
        query = (
            select(*_ASSIGNMENT)
            .join(class_members, m.class_id == a.class_id)
            .where(
                m.account_id == account_id,
                m.role == "learner",
                m.left_at.is_(None),
                a.opens_at <= as_utc(now, "now"),
            )
            .order_by(a.closes_at.is_(None), a.closes_at, a.id)
        )
        with self._database.reading() as connection:
            return tuple(Assignment(*row) for row in connection.execute(query))

    def set_items(self, assignment: Assignment, items: Sequence[ItemWithSong]) -> None:
        """Give an assignment these items in place of those it has, in this order. An item that it
        has, by its number, keeps what was handed out for it."""
        kept = [each.id for each in items if each.id]
        i = assignment_items.c
        with self._database.writing() as connection:
            mine = i.assignment_id == assignment.id
            connection.execute(delete(assignment_items).where(mine, i.id.not_in(kept)))
            for each in items:
                row = _item_row(each, assignment.id)
                if each.id:
                    row["uid"] = each.uid
                    connection.execute(update(assignment_items).where(mine, i.id == each.id), row)
                else:
                    connection.execute(insert(assignment_items).values(row))

    def items(self, assignment: Assignment) -> tuple[AssignmentItem, ...]:
        """The items of an assignment in their order."""
        return self.items_of([assignment.id])

    def items_of(self, assignment_ids: Collection[int]) -> tuple[AssignmentItem, ...]:
        """The items of some assignments, by assignment and in their order."""
        query = _in_order(_ITEM).where(assignment_items.c.assignment_id.in_(assignment_ids))
        with self._database.reading() as connection:
            return tuple(AssignmentItem(*row) for row in connection.execute(query))

    def items_with_songs(self, assignment: Assignment) -> tuple[ItemWithSong, ...]:
        """The items of an assignment in their order, with their songs, which take long to read."""
        query = _in_order(_WITH_SONG).where(assignment_items.c.assignment_id == assignment.id)
        with self._database.reading() as connection:
            return tuple(map(_read_item, connection.execute(query)))

    def item(self, uid: str) -> AssignmentItem | None:
        """The item of that lasting id, if there is one."""
        return self._item(assignment_items.c.uid == uid)

    def item_by_id(self, item_id: int) -> AssignmentItem | None:
        """The item of that number, if there is one."""
        return self._item(assignment_items.c.id == item_id)

    def with_song(self, item: AssignmentItem) -> ItemWithSong:
        """An item with its song. Raises StoreError if it is no longer there."""
        query = select(*_WITH_SONG).where(assignment_items.c.id == item.id)
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        if row is None:
            raise StoreError(f"{item.title}: this item was removed meanwhile.")
        return _read_item(row)

    def _item(self, condition: ColumnElement[bool]) -> AssignmentItem | None:
        with self._database.reading() as connection:
            row = connection.execute(select(*_ITEM).where(condition)).first()
        return None if row is None else AssignmentItem(*row)

    def _assignment(self, condition: ColumnElement[bool], lock: Lock = "") -> Assignment | None:
        query = select(*_ASSIGNMENT).where(condition)
        if lock:
            query = query.with_for_update(read=lock == "stay")
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return None if row is None else Assignment(*row)


def _in_order(columns: Sequence[Any]) -> Select[Any]:
    i = assignment_items.c
    return select(*columns).order_by(i.assignment_id, i.position, i.id)


def _item_row(item: ItemWithSong, assignment_id: int) -> dict[str, Any]:
    row = {name: getattr(item, name) for name in _ITEM_FIELDS if name != "id"}
    return row | {
        "uid": str(uuid.uuid4()),
        "assignment_id": assignment_id,
        "source": dict(item.source),
        "exercise": exercise_to_json(item.exercise),
    }


def _read_item(row: Row[Any]) -> ItemWithSong:
    values: dict[str, Any] = dict(zip(_ITEM_FIELDS, row, strict=True))
    try:
        exercise = exercise_from_json(values["exercise"])
    except InputError as error:
        raise StoreBroken(f"assignment_items, row {row.id}: {error}") from error
    return ItemWithSong(**{**values, "exercise": exercise})
