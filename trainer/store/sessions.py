"""The repositories of sessions and of failed sign-ins."""

from __future__ import annotations

from dataclasses import fields
from datetime import datetime
from typing import Any

from sqlalchemy import Row, delete, func, insert, select, update

from trainer.store.account_records import Account, Failures, Session, SignedIn
from trainer.store.accounts import ACCOUNT_COLUMNS, read_account
from trainer.store.class_tables import accounts, sessions, sign_in_failures
from trainer.store.database import Database
from trainer.store.records import Learner, as_utc
from trainer.store.tables import learners

__all__ = ["Sessions", "SignInFailures"]

_FIELDS = tuple(field.name for field in fields(Session))
_COLUMNS = tuple(sessions.c[name] for name in _FIELDS)
# The names that accounts and learners give their columns, too, are told apart by these.
_SESSION_PREFIX, _LEARNER_PREFIX = "session_", "learner_"
_LEARNER_FIELDS = tuple(field.name for field in fields(Learner))


class Sessions:
    """The browsers that are signed in."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(
        self,
        account: Account,
        token_hash: str,
        *,
        at: datetime,
        expires_at: datetime,
        idle_s: int,
        client: str,
    ) -> Session:
        """Store a new session under the digest of its token."""
        moment = as_utc(at, "start of a session")
        row = {
            "token_hash": token_hash,
            "account_id": account.id,
            "made_at": moment,
            "seen_at": moment,
            "expires_at": as_utc(expires_at, "end of a session"),
            "idle_s": idle_s,
            "client": client,
        }
        with self._database.writing() as connection:
            adding = insert(sessions).values(row).returning(*_COLUMNS)
            return _read(connection.execute(adding).one())

    def find(self, token_hash: str) -> SignedIn | None:
        """The session of that digest, whether or not it has ended, with whose it is."""
        query = (
            select(
                *ACCOUNT_COLUMNS,
                *(sessions.c[name].label(_SESSION_PREFIX + name) for name in _FIELDS),
                *(
                    learners.c[name].label(f"{_LEARNER_PREFIX}of_{name}")
                    for name in _LEARNER_FIELDS
                ),
            )
            .join(accounts, accounts.c.id == sessions.c.account_id)
            .join(learners, learners.c.id == accounts.c.learner_id)
            .where(sessions.c.token_hash == token_hash)
        )
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        if row is None:
            return None
        learner = {name: getattr(row, f"{_LEARNER_PREFIX}of_{name}") for name in _LEARNER_FIELDS}
        return SignedIn(_read(row, _SESSION_PREFIX), read_account(row), Learner(**learner))

    def of(self, account: Account) -> tuple[Session, ...]:
        """An account's sessions, the one used last first."""
        query = (
            select(*_COLUMNS)
            .where(sessions.c.account_id == account.id)
            .order_by(sessions.c.seen_at.desc(), sessions.c.id.desc())
        )
        with self._database.reading() as connection:
            return tuple(map(_read, connection.execute(query)))

    def last_use(self) -> dict[int, datetime]:
        """When each account that has a session was last seen, by the account's number."""
        query = select(sessions.c.account_id, func.max(sessions.c.seen_at)).group_by(
            sessions.c.account_id
        )
        with self._database.reading() as connection:
            return {row[0]: row[1] for row in connection.execute(query)}

    def seen(self, session: Session, at: datetime) -> None:
        """Note that a session is in use."""
        changing = update(sessions).where(sessions.c.id == session.id)
        with self._database.writing() as connection:
            connection.execute(changing.values(seen_at=as_utc(at, "use of a session")))

    def end(self, account: Account, session_id: int) -> bool:
        """Remove one of an account's sessions; whether there was one."""
        ending = delete(sessions).where(
            sessions.c.account_id == account.id, sessions.c.id == session_id
        )
        with self._database.writing() as connection:
            return connection.execute(ending).rowcount > 0

    def end_token(self, token_hash: str) -> None:
        """Remove the session of that digest, if it is there."""
        with self._database.writing() as connection:
            connection.execute(delete(sessions).where(sessions.c.token_hash == token_hash))

    def end_all(self, account: Account) -> int:
        """Remove every session of an account; how many there were."""
        ending = delete(sessions).where(sessions.c.account_id == account.id)
        with self._database.writing() as connection:
            return connection.execute(ending).rowcount

    def delete_expired(self, now: datetime) -> None:
        """Remove the sessions whose time is over."""
        ending = delete(sessions).where(sessions.c.expires_at <= as_utc(now, "now"))
        with self._database.writing() as connection:
            connection.execute(ending)


class SignInFailures:
    """Failed sign-ins of the last while, by name tried and by where they came from."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(self, name_hash: str, source: str, at: datetime) -> int:
        """Store a try; its number."""
        row = {"name_hash": name_hash, "source": source, "at": as_utc(at, "time of a try")}
        adding = insert(sign_in_failures).values(row).returning(sign_in_failures.c.id)
        with self._database.writing() as connection:
            number: int = connection.execute(adding).scalar_one()
            return number

    def before(
        self,
        number: int,
        source: str,
        *,
        since: datetime,
        until: datetime,
        name_hash: str | None = None,
    ) -> Failures:
        """The tries from a source in a span of time that were stored before one of that number;
        only those at one name, if it is given."""
        f = sign_in_failures.c
        query = select(func.count(), func.max(f.at)).where(
            f.source == source,
            f.id < number,
            f.at > as_utc(since, "start of a span"),
            f.at <= as_utc(until, "end of a span"),
        )
        if name_hash is not None:
            query = query.where(f.name_hash == name_hash)
        with self._database.reading() as connection:
            return Failures(*connection.execute(query).one())

    def forget(self, number: int) -> None:
        """Remove a try that was not one after all."""
        with self._database.writing() as connection:
            connection.execute(delete(sign_in_failures).where(sign_in_failures.c.id == number))

    def forget_all(self, name_hash: str, source: str) -> None:
        """Remove the tries at a name from a source, after one that was right."""
        f = sign_in_failures.c
        with self._database.writing() as connection:
            connection.execute(
                delete(sign_in_failures).where(f.source == source, f.name_hash == name_hash)
            )

    def delete_before(self, moment: datetime) -> None:
        """Remove the tries before a moment."""
        old = sign_in_failures.c.at < as_utc(moment, "end of a span")
        with self._database.writing() as connection:
            connection.execute(delete(sign_in_failures).where(old))


def _read(row: Row[Any], prefix: str = "") -> Session:
    return Session(**{name: getattr(row, prefix + name) for name in _FIELDS})
