"""The repositories of identities at a school's own system, and of what may be used only once."""

from __future__ import annotations

from dataclasses import fields
from datetime import datetime

from sqlalchemy import delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from trainer.errors import StoreConflict
from trainer.store.account_records import Account, Identity
from trainer.store.accounts import ACCOUNT_COLUMNS, read_account
from trainer.store.class_tables import accounts
from trainer.store.database import Database
from trainer.store.records import as_utc
from trainer.store.school_tables import identities, used_once

__all__ = ["Identities", "UsedOnce"]

_COLUMNS = tuple(identities.c[field.name] for field in fields(Identity))


class Identities:
    """Who accounts are to the systems of schools; an identity belongs to one account."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, account: Account, issuer: str, subject: str, at: datetime) -> None:
        """Connect an identity with an account.

        Raises
        ------
        StoreConflict
            If it was connected with an account meanwhile.
        """
        moment = as_utc(at, "time of a new identity")
        row = {
            "account_id": account.id,
            "issuer": issuer,
            "subject": subject,
            "made_at": moment,
            "used_at": moment,
        }
        with self._database.writing() as connection:
            try:
                connection.execute(insert(identities).values(row))
            except IntegrityError as error:
                raise StoreConflict("somebody else connected this identity meanwhile") from error

    def account_of(self, issuer: str, subject: str) -> Account | None:
        """The account of whoever an issuer calls so; None if there is none."""
        query = (
            select(*ACCOUNT_COLUMNS)
            .join(identities, identities.c.account_id == accounts.c.id)
            .where(identities.c.issuer == issuer, identities.c.subject == subject)
        )
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return None if row is None else read_account(row)

    def of(self, account: Account) -> tuple[Identity, ...]:
        """The identities of an account, oldest first."""
        query = select(*_COLUMNS).where(identities.c.account_id == account.id)
        with self._database.reading() as connection:
            rows = connection.execute(query.order_by(identities.c.id))
            return tuple(Identity(*row) for row in rows)

    def used(self, issuer: str, subject: str, at: datetime) -> None:
        """Note that somebody signed in with an identity."""
        using = update(identities).where(
            identities.c.issuer == issuer, identities.c.subject == subject
        )
        with self._database.writing() as connection:
            connection.execute(using.values(used_at=as_utc(at, "use of an identity")))

    def remove(self, account: Account, identity_id: int) -> Identity | None:
        """Take an identity from an account; what it was, None if the account has no such one."""
        removing = delete(identities).where(
            identities.c.id == identity_id, identities.c.account_id == account.id
        )
        with self._database.erasing() as connection:
            row = connection.execute(removing.returning(*_COLUMNS)).first()
        return None if row is None else Identity(*row)


class UsedOnce:
    """Digests of what may be used only once."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def use(self, digest: str, at: datetime, expires_at: datetime) -> bool:
        """Note that something is used; False if it was used before.

        What has expired by `at` is forgotten.
        """
        row = {"digest": digest, "expires_at": as_utc(expires_at, "end of what is used once")}
        is_known = select(used_once.c.digest).where(used_once.c.digest == digest)
        with self._database.writing() as connection:
            now = as_utc(at, "use of something")
            connection.execute(delete(used_once).where(used_once.c.expires_at <= now))
            if connection.execute(is_known).first() is not None:
                return False
            try:
                connection.execute(insert(used_once).values(row))
            except IntegrityError as error:
                raise StoreConflict("somebody else used the same meanwhile") from error
        return True
