"""The repository of classes: their members, and the codes with which learners join."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import fields, replace
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, func, insert, select, update

from trainer.store.assignment_tables import class_members, classes, join_codes
from trainer.store.class_records import ClassRecord, JoinCode, Member
from trainer.store.class_tables import accounts
from trainer.store.database import Database, upsert
from trainer.store.records import as_utc

__all__ = ["Classes"]

_CLASS = tuple(classes.c[field.name] for field in fields(ClassRecord))
_CODE = tuple(join_codes.c[field.name] for field in fields(JoinCode))
_MEMBER = (
    class_members.c.class_id,
    class_members.c.account_id,
    accounts.c.uid,
    accounts.c.learner_id,
    accounts.c.shown_name,
    accounts.c.sign_in,
    class_members.c.role,
    class_members.c.joined_at,
    class_members.c.left_at,
)


class Classes:
    """The classes of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, account_id: int, name: str, term: str, at: datetime) -> ClassRecord:
        """Store a new class, with whoever makes it as its teacher."""
        moment = as_utc(at, "time of a new class")
        row = {
            "uid": str(uuid.uuid4()),
            "name": name,
            "term": term,
            "made_by": account_id,
            "made_at": moment,
        }
        with self._database.writing() as connection:
            made = connection.execute(insert(classes).values(row).returning(*_CLASS)).one()
            found = ClassRecord(*made)
            member = {
                "class_id": found.id,
                "account_id": account_id,
                "role": "teacher",
                "joined_at": moment,
            }
            connection.execute(insert(class_members).values(member))
        return found

    def find(self, uid: str) -> ClassRecord | None:
        """The class of that lasting id, if there is one."""
        return self._class(classes.c.uid == uid)

    def get(self, class_id: int) -> ClassRecord | None:
        """The class of that number, if there is one."""
        return self._class(classes.c.id == class_id)

    def change(self, record: ClassRecord, name: str, term: str) -> ClassRecord:
        """Give a class another name and term."""
        return self._change(record, {"name": name, "term": term})

    def close(self, record: ClassRecord, at: datetime | None) -> ClassRecord:
        """Close a class at a moment, or open it again (None)."""
        return self._change(record, {"closed_at": at and as_utc(at, "time of closing")})

    def of_account(self, account_id: int) -> tuple[tuple[ClassRecord, str], ...]:
        """The classes that an account is in, each with its role there, newest first."""
        query = (
            select(*_CLASS, class_members.c.role)
            .join(class_members, class_members.c.class_id == classes.c.id)
            .where(class_members.c.account_id == account_id, class_members.c.left_at.is_(None))
            .order_by(classes.c.made_at.desc(), classes.c.id.desc())
        )
        with self._database.reading() as connection:
            rows = connection.execute(query).all()
        return tuple((ClassRecord(*row[:-1]), row[-1]) for row in rows)

    def members(self, class_id: int) -> tuple[Member, ...]:
        """Everybody who is or was in a class, by the name shown."""
        query = _members().where(class_members.c.class_id == class_id)
        query = query.order_by(func.lower(accounts.c.shown_name), accounts.c.id)
        with self._database.reading() as connection:
            return tuple(Member(*row) for row in connection.execute(query))

    def member(self, class_id: int, account_id: int) -> Member | None:
        """An account's membership of a class, if it has or had one."""
        mine = (class_members.c.class_id == class_id, class_members.c.account_id == account_id)
        with self._database.reading() as connection:
            row = connection.execute(_members().where(*mine)).first()
        return None if row is None else Member(*row)

    def counts(self, class_ids: list[int]) -> Mapping[int, int]:
        """How many learners are in each of some classes."""
        m = class_members.c
        query = (
            select(m.class_id, func.count())
            .where(m.class_id.in_(class_ids), m.role == "learner", m.left_at.is_(None))
            .group_by(m.class_id)
        )
        with self._database.reading() as connection:
            found = {row[0]: row[1] for row in connection.execute(query)}
        return dict.fromkeys(class_ids, 0) | found

    def join(self, class_id: int, account_id: int, role: str, at: datetime) -> Member:
        """Put an account into a class in a role; somebody who left comes back, and somebody who is
        there keeps the moment they joined."""
        moment = as_utc(at, "time of joining")
        row = {"class_id": class_id, "account_id": account_id, "role": role, "joined_at": moment}
        mine = (class_members.c.class_id == class_id, class_members.c.account_id == account_id)
        with self._database.writing() as connection:
            upsert(connection, class_members, [row])
            back = update(class_members).where(*mine).values(role=role, left_at=None)
            connection.execute(back)
            return Member(*connection.execute(_members().where(*mine)).one())

    def leave(self, class_id: int, account_id: int, at: datetime) -> None:
        """Note that an account left a class; what it did there stays."""
        mine = (class_members.c.class_id == class_id, class_members.c.account_id == account_id)
        leaving = update(class_members).where(*mine, class_members.c.left_at.is_(None))
        with self._database.writing() as connection:
            connection.execute(leaving.values(left_at=as_utc(at, "time of leaving")))

    def add_code(self, class_id: int, code: str, at: datetime, expires_at: datetime) -> JoinCode:
        """Store a class's new join code; the earlier ones end."""
        moment = as_utc(at, "time of a new join code")
        row = {
            "class_id": class_id,
            "code": code,
            "made_at": moment,
            "expires_at": as_utc(expires_at, "end of a join code"),
        }
        with self._database.writing() as connection:
            self._end_codes(connection, class_id, moment)
            made = connection.execute(insert(join_codes).values(row).returning(*_CODE)).one()
        return JoinCode(*made)

    def end_codes(self, class_id: int, at: datetime) -> None:
        """End the join codes of a class."""
        with self._database.writing() as connection:
            self._end_codes(connection, class_id, as_utc(at, "end of a join code"))

    def code_of(self, class_id: int) -> JoinCode | None:
        """The newest join code of a class that was not ended; it may have expired."""
        c = join_codes.c
        query = (
            select(*_CODE)
            .where(c.class_id == class_id, c.ended_at.is_(None))
            .order_by(c.id.desc())
            .limit(1)
        )
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return None if row is None else JoinCode(*row)

    def find_code(self, code: str) -> JoinCode | None:
        """The join code of that text, whether it holds or not."""
        with self._database.reading() as connection:
            row = connection.execute(select(*_CODE).where(join_codes.c.code == code)).first()
        return None if row is None else JoinCode(*row)

    @staticmethod
    def _end_codes(connection: Any, class_id: int, moment: datetime) -> None:
        mine = (join_codes.c.class_id == class_id, join_codes.c.ended_at.is_(None))
        connection.execute(update(join_codes).where(*mine).values(ended_at=moment))

    def _class(self, condition: ColumnElement[bool]) -> ClassRecord | None:
        with self._database.reading() as connection:
            row = connection.execute(select(*_CLASS).where(condition)).first()
        return None if row is None else ClassRecord(*row)

    def _change(self, record: ClassRecord, values: dict[str, Any]) -> ClassRecord:
        with self._database.writing() as connection:
            connection.execute(update(classes).where(classes.c.id == record.id).values(values))
        return replace(record, **values)


def _members() -> Any:
    return select(*_MEMBER).join(accounts, accounts.c.id == class_members.c.account_id)
