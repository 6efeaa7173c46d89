"""The repositories of what was changed by whom, and of what all server processes know alike."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields
from datetime import datetime
from typing import Any

from sqlalchemy import insert, select, update

from trainer.store.account_records import AuditEntry
from trainer.store.class_tables import audit_log, server_secrets
from trainer.store.database import Database, upsert
from trainer.store.records import as_utc

__all__ = ["AuditLog", "ServerSecrets"]

_COLUMNS = tuple(audit_log.c[field.name] for field in fields(AuditEntry))


class AuditLog:
    """What was changed, when and by whom; entries are added and never taken away."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(
        self,
        what: str,
        subject: str,
        *,
        at: datetime,
        who: str | None,
        before: Mapping[str, Any] | None = None,
        after: Mapping[str, Any] | None = None,
    ) -> None:
        """Store an entry; `who` is an account's uid, None for the program or the one at the
        machine."""
        row = {
            "at": as_utc(at, "time of a change"),
            "who": who,
            "what": what,
            "subject": subject,
            "before": None if before is None else dict(before),
            "after": None if after is None else dict(after),
        }
        with self._database.writing() as connection:
            connection.execute(insert(audit_log).values(row))

    def of(self, subject: str) -> tuple[AuditEntry, ...]:
        """What was done to a subject, newest first."""
        query = select(*_COLUMNS).where(audit_log.c.subject == subject)
        with self._database.reading() as connection:
            rows = connection.execute(query.order_by(audit_log.c.id.desc()))
            return tuple(AuditEntry(*row) for row in rows)

    def newest(self, most: int, *, before_id: int | None = None) -> tuple[AuditEntry, ...]:
        """The newest entries, at most that many; only those before one of that number, if given."""
        query = select(*_COLUMNS).order_by(audit_log.c.id.desc()).limit(most)
        if before_id is not None:
            query = query.where(audit_log.c.id < before_id)
        with self._database.reading() as connection:
            return tuple(AuditEntry(*row) for row in connection.execute(query))

    def forget_values(self, subject: str) -> None:
        """Empty what entries say of a subject before and after, because it was deleted."""
        with self._database.erasing() as connection:
            forgetting = update(audit_log).where(audit_log.c.subject == subject)
            connection.execute(forgetting.values(before=None, after=None))


class ServerSecrets:
    """Random values that every server process over one database shares."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def get_or_add(self, name: str, make: Callable[[], str], at: datetime) -> str:
        """The secret of that name; made if there is none, by whichever process comes first."""
        query = select(server_secrets.c.value).where(server_secrets.c.name == name)
        with self._database.reading() as connection:
            found: str | None = connection.execute(query).scalar()
        if found is not None:
            return found
        row = {"name": name, "value": make(), "made_at": as_utc(at, "time of a new secret")}
        with self._database.writing() as connection:
            upsert(connection, server_secrets, [row])
            kept: str = connection.execute(query).scalar_one()
            return kept
