"""The repository of accounts."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Row, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from trainer.errors import SignInTaken
from trainer.store.account_records import Account, NewAccount, Role
from trainer.store.class_tables import accounts
from trainer.store.database import Database
from trainer.store.records import Learner, as_utc

__all__ = ["ACCOUNT_COLUMNS", "Accounts", "read_account"]

_FIELDS = tuple(field.name for field in fields(Account))
ACCOUNT_COLUMNS = tuple(accounts.c[name] for name in _FIELDS)


class Accounts:
    """The accounts of a store; each has one learner, and goes when the learner is deleted."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, learner: Learner, new: NewAccount, at: datetime) -> Account:
        """Store a new account of a learner who has none.

        Raises
        ------
        SignInTaken
            If another account has that sign-in name, or the learner has an account.
        """
        moment = as_utc(at, "time of a new account")
        row = {
            "uid": str(uuid.uuid4()),
            "learner_id": learner.id,
            "sign_in": new.sign_in,
            "shown_name": new.shown_name,
            "password_hash": new.password_hash,
            "password_at": moment if new.password_hash else None,
            "role": new.role.value,
            "made_at": moment,
        }
        with self._database.writing() as connection:
            adding = insert(accounts).values(row).returning(*ACCOUNT_COLUMNS)
            try:
                return read_account(connection.execute(adding).one())
            except IntegrityError as error:
                raise SignInTaken(new.sign_in) from error

    def by_uid(self, uid: str) -> Account | None:
        """The account of that lasting id, if there is one."""
        return self._find(accounts.c.uid == uid)

    def by_id(self, account_id: int, *, lock: bool = False) -> Account | None:
        """The account of that number; with `lock`, in a transaction, kept from other writers."""
        return self._find(accounts.c.id == account_id, lock=lock)

    def by_sign_in(self, sign_in: str) -> Account | None:
        """The account of that folded sign-in name, if there is one."""
        return self._find(accounts.c.sign_in == sign_in)

    def of_learner(self, learner: Learner) -> Account | None:
        """The account of a learner, if they have one."""
        return self._find(accounts.c.learner_id == learner.id)

    def all(self) -> tuple[Account, ...]:
        """Every account, by sign-in name."""
        query = select(*ACCOUNT_COLUMNS).order_by(accounts.c.sign_in)
        with self._database.reading() as connection:
            return tuple(map(read_account, connection.execute(query)))

    def count(self) -> int:
        """How many accounts there are."""
        with self._database.reading() as connection:
            return connection.execute(select(func.count()).select_from(accounts)).scalar_one()

    def owners(self, *, lock: bool = False) -> Sequence[Account]:
        """Owners of the server who can sign in; with `lock` kept from other writers."""
        query = (
            select(*ACCOUNT_COLUMNS)
            .where(accounts.c.role == Role.OWNER.value, accounts.c.disabled_at.is_(None))
            .order_by(accounts.c.id)
        )
        with self._database.reading() as connection:
            rows = connection.execute(query.with_for_update() if lock else query)
            return tuple(map(read_account, rows))

    def set_password(self, account: Account, password_hash: str, at: datetime) -> None:
        """Store another password's hash, set at that moment."""
        moment = as_utc(at, "time of a new password")
        self._change(account, {"password_hash": password_hash, "password_at": moment})

    def set_hash(self, account: Account, password_hash: str) -> None:
        """Store another hash of the same password, unless the password was changed meanwhile."""
        is_same = accounts.c.password_hash == account.password_hash
        self._change(account, {"password_hash": password_hash}, is_same)

    def set_shown_name(self, account: Account, name: str) -> None:
        """Store what pages call somebody."""
        self._change(account, {"shown_name": name})

    def set_role(self, account: Account, role: Role) -> None:
        """Store another role."""
        self._change(account, {"role": role.value})

    def set_disabled(self, account: Account, at: datetime | None) -> None:
        """Store since when somebody cannot sign in; None if they can."""
        moment = None if at is None else as_utc(at, "time of disabling")
        self._change(account, {"disabled_at": moment})

    def _change(
        self, account: Account, values: Mapping[str, Any], *where: ColumnElement[bool]
    ) -> None:
        changing = update(accounts).where(accounts.c.id == account.id, *where).values(values)
        with self._database.writing() as connection:
            connection.execute(changing)

    def _find(self, condition: ColumnElement[bool], *, lock: bool = False) -> Account | None:
        query = select(*ACCOUNT_COLUMNS).where(condition)
        with self._database.reading() as connection:
            row = connection.execute(query.with_for_update() if lock else query).first()
        return None if row is None else read_account(row)


def read_account(row: Row[Any]) -> Account:
    """The account in a row that has `ACCOUNT_COLUMNS` under their own names."""
    values = {name: getattr(row, name) for name in _FIELDS}
    return Account(**values | {"role": Role(row.role)})
