"""The repository of learners."""

from __future__ import annotations

import unicodedata
import uuid
from dataclasses import replace
from datetime import datetime

from sqlalchemy import ColumnElement, Connection, delete, select, update
from sqlalchemy.exc import IntegrityError

from trainer.errors import SettingsError, StoreError
from trainer.store.database import Database, upsert
from trainer.store.records import Learner, as_utc
from trainer.store.tables import learners

__all__ = ["NOBODY_NAMED", "Learners", "clean_name"]

LONGEST_NAME = 80
# The name of a learner who gives none.
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
        return self.add(name, now) if found is None else found

    def add(self, name: str, now: datetime, uid: str | None = None) -> Learner:
        """Add a learner; one of that name who is there already stays as they are.

        `uid` is given where the learner's record comes from another store.
        """
        cleaned = clean_name(name)
        with self._database.writing() as connection:
            row = {
                "uid": uid or str(uuid.uuid4()),
                "name": cleaned,
                "created_at": as_utc(now, "now"),
                "caution_at": None,
            }
            upsert(connection, learners, [row])
            found = _find(connection, learners.c.name == cleaned)
            if found is None:
                raise StoreError(
                    f"learner {cleaned}: found another learner with the id {row['uid']}, expected "
                    "an id that is not taken. Nothing was changed."
                )
            return found

    def add_new(self, name: str, now: datetime) -> Learner:
        """Add a learner whose name is free.

        Raises
        ------
        SettingsError
            If somebody has that name, or it cannot be one.
        """
        uid = str(uuid.uuid4())
        learner = self.add(name, now, uid)
        if learner.uid != uid:
            raise _taken(learner.name)
        return learner

    def lock(self, learner: Learner) -> None:
        """Within a transaction: have other writers of this learner's record wait until its end.

        Raises
        ------
        StoreError
            If the learner is no longer there.
        """
        query = select(learners.c.id).where(learners.c.id == learner.id).with_for_update()
        with self._database.writing() as connection:
            if connection.execute(query).first() is None:
                raise StoreError(
                    f"{learner.name}: nothing was stored, because this learner was deleted "
                    "meanwhile."
                )

    def caution_shown(self, learner: Learner, now: datetime) -> Learner:
        """Note that the learner was shown the hearing caution; the first time stays on record."""
        moment = learner.caution_at or as_utc(now, "now")
        first = (learners.c.id == learner.id, learners.c.caution_at.is_(None))
        with self._database.writing() as connection:
            connection.execute(update(learners).where(*first).values(caution_at=moment))
        return replace(learner, caution_at=moment)

    def get(self, name: str) -> Learner | None:
        """The learner of that name, if there is one."""
        with self._database.reading() as connection:
            return _find(connection, learners.c.name == clean_name(name))

    def by_uid(self, uid: str) -> Learner | None:
        """The learner of that lasting id, if there is one."""
        with self._database.reading() as connection:
            return _find(connection, learners.c.uid == uid)

    def by_id(self, learner_id: int) -> Learner | None:
        """The learner of that number, if there is one."""
        with self._database.reading() as connection:
            return _find(connection, learners.c.id == learner_id)

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
        """Give a learner another name; their record stays with them.

        Raises
        ------
        SettingsError
            If somebody else has that name, or it cannot be one.
        """
        cleaned = clean_name(name)
        with self._database.writing() as connection:
            changing = update(learners).where(learners.c.id == learner.id).values(name=cleaned)
            try:
                connection.execute(changing)
            except IntegrityError as error:
                raise _taken(cleaned) from error
        return replace(learner, name=cleaned)

    def delete(self, learner: Learner) -> None:
        """Remove a learner with everything that is theirs. There is no way back but a backup."""
        with self._database.erasing() as connection:
            connection.execute(delete(learners).where(learners.c.id == learner.id))


def _taken(name: str) -> SettingsError:
    return SettingsError(
        "learner's name", f"{name}, who has a record here", "a name that isn't taken"
    )


def _find(connection: Connection, condition: ColumnElement[bool]) -> Learner | None:
    row = connection.execute(select(learners).where(condition)).mappings().first()
    return Learner(**row) if row else None
