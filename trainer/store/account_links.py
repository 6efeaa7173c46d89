"""The repository of links that make an account or set a password."""

from __future__ import annotations

from dataclasses import fields
from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, insert, select, update

from trainer.store.account_records import Account, AccountLink, Role
from trainer.store.class_tables import account_links
from trainer.store.database import Database
from trainer.store.records import as_utc

__all__ = ["AccountLinks"]

_FIELDS = tuple(field.name for field in fields(AccountLink))
_COLUMNS = tuple(account_links.c[name] for name in _FIELDS)


class AccountLinks:
    """Links that work once and until they expire, stored under the digest of their token."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(
        self,
        token_hash: str,
        *,
        at: datetime,
        expires_at: datetime,
        account: Account | None = None,
        role: Role | None = None,
    ) -> AccountLink:
        """Store a link that sets an account's password or makes an account of a role."""
        row = {
            "token_hash": token_hash,
            "account_id": account.id if account is not None else None,
            "role": role.value if role is not None else None,
            "made_at": as_utc(at, "time of a new link"),
            "expires_at": as_utc(expires_at, "end of a link"),
        }
        with self._database.writing() as connection:
            adding = insert(account_links).values(row).returning(*_COLUMNS)
            return _read(connection.execute(adding).one())

    def find(self, token_hash: str) -> AccountLink | None:
        """The link of that digest, whether or not it still works."""
        query = select(*_COLUMNS).where(account_links.c.token_hash == token_hash)
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return None if row is None else _read(row)

    def use(self, link: AccountLink, at: datetime) -> bool:
        """Note that a link was used; False if somebody used it before."""
        is_unused = (account_links.c.id == link.id, account_links.c.used_at.is_(None))
        using = update(account_links).where(*is_unused)
        with self._database.writing() as connection:
            done = connection.execute(using.values(used_at=as_utc(at, "use of a link")))
            return done.rowcount == 1

    def withdraw(self, account: Account | None) -> None:
        """Remove the links of an account; without one, the links that make the owner's account."""
        links = account_links.c
        if account is not None:
            which = links.account_id == account.id
        else:
            which = links.account_id.is_(None) & (links.role == Role.OWNER.value)
        with self._database.writing() as connection:
            connection.execute(delete(account_links).where(which))

    def delete_expired(self, now: datetime) -> None:
        """Remove the links whose time is over."""
        old = account_links.c.expires_at <= as_utc(now, "now")
        with self._database.writing() as connection:
            connection.execute(delete(account_links).where(old))


def _read(row: Row[Any]) -> AccountLink:
    values = {name: getattr(row, name) for name in _FIELDS}
    return AccountLink(**values | {"role": Role(row.role) if row.role is not None else None})
