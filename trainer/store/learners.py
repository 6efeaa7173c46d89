"""Who practises."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from datetime import datetime

from sqlalchemy import Connection, delete, select, update

from trainer.errors import SettingsError
from trainer.store.database import Database, upsert
from trainer.store.records import Learner, as_utc
from trainer.store.tables import learners

__all__ = ["NOBODY_NAMED", "Learners", "add_learner", "clean_name"]

LONGEST_NAME = 80
# Whoever says no name practises under this one.
NOBODY_NAMED = "me"


def clean_name(name: str) -> str:
    """The name as it is kept: composed letters (NFC), single spaces.

    Raises
    ------
    SettingsError
        If nothing is left, or it is too long or has characters that cannot be printed.
    """
    cleaned = " ".join(unicodedata.normalize("NFC", name).split())
    if not cleaned or len(cleaned) > LONGEST_NAME or not cleaned.isprintable():
        raise SettingsError(
            "learner's name", repr(name[: LONGEST_NAME + 1]), f"1 to {LONGEST_NAME} characters"
        )
    return cleaned


class Learners:
    """The learners of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def get_or_add(self, name: str, now: datetime) -> Learner:
        """The learner of that name, added if there is none yet."""
        found = self.get(name)
        if found:
            return found
        with self._database.writing() as connection:
            return add_learner(connection, name, now)

    def get(self, name: str) -> Learner | None:
        """The learner of that name, if there is one."""
        with self._database.reading() as connection:
            return _find(connection, clean_name(name))

    def usual(self, name: str) -> Learner | None:
        """The learner of that name; the only one there is where nobody is named `NOBODY_NAMED`."""
        found = self.get(name)
        if found is not None or name != NOBODY_NAMED:
            return found
        everybody = self.all()
        return everybody[0] if len(everybody) == 1 else None

    def all(self) -> tuple[Learner, ...]:
        """Every learner, by name."""
        with self._database.reading() as connection:
            rows = connection.execute(select(learners).order_by(learners.c.name))
            return tuple(Learner(**row) for row in rows.mappings())

    def rename(self, learner: Learner, name: str) -> Learner:
        """Give a learner another name; all that is theirs stays theirs.

        Raises
        ------
        SettingsError
            If somebody else has that name, or it cannot be one.
        """
        cleaned = clean_name(name)
        with self._database.writing() as connection:
            found = _find(connection, cleaned)
            if found is not None and found.id != learner.id:
                raise SettingsError(
                    "learner's name", f"{cleaned}, who has a record here", "a name that is free"
                )
            changing = update(learners).where(learners.c.id == learner.id)
            connection.execute(changing.values(name=cleaned))
        return replace(learner, name=cleaned)

    def delete(self, learner: Learner) -> None:
        """Remove a learner with everything that is theirs. There is no way back but a backup."""
        with self._database.erasing() as connection:
            connection.execute(delete(learners).where(learners.c.id == learner.id))


def add_learner(connection: Connection, name: str, now: datetime) -> Learner:
    """Add a learner within a transaction; one that is there already stays as it is."""
    cleaned = clean_name(name)
    row = {"name": cleaned, "created_at": as_utc(now, "now")}
    upsert(connection, learners, [row])
    found = _find(connection, cleaned)
    assert found is not None
    return found


def _find(connection: Connection, name: str) -> Learner | None:
    row = connection.execute(select(learners).where(learners.c.name == name)).mappings().first()
    return Learner(**row) if row else None
