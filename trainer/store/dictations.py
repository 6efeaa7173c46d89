"""The repository of live dictations and of what learners write in them."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import fields
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, insert, select, update

from trainer.store.assignment_tables import class_members, classes
from trainer.store.assignments import Lock
from trainer.store.database import Database, upsert
from trainer.store.dictation_records import (
    Dictation,
    DictationAnswer,
    DictationState,
    read_state,
)
from trainer.store.dictation_tables import dictation_answers, dictations
from trainer.store.records import as_utc

__all__ = ["Dictations"]

_DICTATION = tuple(dictations.c[field.name] for field in fields(Dictation))
_ANSWER = tuple(dictation_answers.c[field.name] for field in fields(DictationAnswer))
_CHANGING = frozenset(
    (
        "phase",
        "revision",
        "first_bar",
        "last_bar",
        "began_at",
        "heard",
        "plays",
        "ended_at",
        "assignment_id",
    )
)


class Dictations:
    """The dictations of a store."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def add(
        self,
        class_id: int,
        title: str,
        song: Mapping[str, Any],
        bars: int,
        made_by: int,
        at: datetime,
    ) -> Dictation:
        """Store a new dictation, which waits for the band; `song` is an item as plain values."""
        row = {
            "uid": str(uuid.uuid4()),
            "class_id": class_id,
            "title": title,
            "song": dict(song),
            "bars": bars,
            "phase": "waiting",
            "revision": 1,
            "first_bar": 1,
            "last_bar": bars,
            "heard": 0,
            "plays": 0,
            "made_by": made_by,
            "made_at": as_utc(at, "start of a dictation"),
        }
        with self._database.writing() as connection:
            made = insert(dictations).values(row).returning(*_DICTATION)
            return Dictation(*connection.execute(made).one())

    def find(self, uid: str, *, lock: Lock = "") -> Dictation | None:
        """The dictation of that lasting id, if there is one; in a transaction kept from other
        writers with `lock` "change", or only kept as it is, with "stay"."""
        query = select(*_DICTATION).where(dictations.c.uid == uid)
        if lock:
            query = query.with_for_update(read=lock == "stay")
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return None if row is None else Dictation(*row)

    def song(self, dictation: Dictation) -> Mapping[str, Any]:
        """The song of a dictation: an item as plain values."""
        query = select(dictations.c.song).where(dictations.c.id == dictation.id)
        with self._database.reading() as connection:
            found: Mapping[str, Any] = connection.execute(query).scalar_one()
        return found

    def of_class(self, class_id: int) -> tuple[Dictation, ...]:
        """The dictations of a class, newest first."""
        query = select(*_DICTATION).where(dictations.c.class_id == class_id)
        query = query.order_by(dictations.c.id.desc())
        with self._database.reading() as connection:
            return tuple(Dictation(*row) for row in connection.execute(query))

    def change(self, dictation: Dictation, **values: Any) -> None:
        """Store some values of a dictation in place of those it has."""
        if not values.keys() <= _CHANGING:
            raise ValueError(f"found {sorted(values)}, expected some of {sorted(_CHANGING)}")
        with self._database.writing() as connection:
            mine = dictations.c.id == dictation.id
            connection.execute(update(dictations).where(mine).values(values))

    def state(self, uid: str, account_id: int) -> DictationState | None:
        """A dictation as a learner of its class sees it, in one read; None for everybody else."""
        found = self._states(account_id, dictations.c.uid == uid)
        return found[0] if found else None

    def open_to(self, account_id: int) -> tuple[DictationState, ...]:
        """The dictations that are not over in the classes in which an account learns."""
        return self._states(account_id, dictations.c.phase != "over")

    def keep(self, dictation_id: int, account_id: int, text: str | None, at: datetime) -> None:
        """Keep what an account has written and that it is there; None leaves the text as it is.
        What was handed in stays."""
        moment, a = as_utc(at, "now"), dictation_answers.c
        row = {
            "dictation_id": dictation_id,
            "account_id": account_id,
            "text": text or "",
            "seen_at": moment,
        }
        mine = (a.dictation_id == dictation_id, a.account_id == account_id)
        with self._database.writing() as connection:
            upsert(connection, dictation_answers, [row])
            seen = update(dictation_answers).where(*mine)
            connection.execute(seen.values(seen_at=moment))
            if text is not None:
                connection.execute(seen.where(a.handed_in_at.is_(None)).values(text=text))

    def hand_in(self, dictation_id: int, account_id: int | None, at: datetime) -> None:
        """Note that an answer is handed in, or (None) all that are not yet."""
        a = dictation_answers.c
        mine = [a.dictation_id == dictation_id, a.handed_in_at.is_(None)]
        if account_id is not None:
            mine.append(a.account_id == account_id)
        with self._database.writing() as connection:
            handing = update(dictation_answers).where(*mine)
            connection.execute(handing.values(handed_in_at=as_utc(at, "time of handing in")))

    def set_attempt(self, dictation_id: int, account_id: int, attempt_id: int) -> None:
        """Note which attempt an answer became."""
        a = dictation_answers.c
        mine = (a.dictation_id == dictation_id, a.account_id == account_id)
        with self._database.writing() as connection:
            changing = update(dictation_answers).where(*mine)
            connection.execute(changing.values(attempt_id=attempt_id))

    def answers(self, dictation: Dictation) -> tuple[DictationAnswer, ...]:
        """What everybody has written, by account."""
        a = dictation_answers.c
        query = select(*_ANSWER).where(a.dictation_id == dictation.id).order_by(a.account_id)
        with self._database.reading() as connection:
            return tuple(DictationAnswer(*row) for row in connection.execute(query))

    def answer(self, dictation_id: int, account_id: int) -> DictationAnswer | None:
        """What an account has written; None if it was never there."""
        a = dictation_answers.c
        query = select(*_ANSWER).where(a.dictation_id == dictation_id, a.account_id == account_id)
        with self._database.reading() as connection:
            row = connection.execute(query).first()
        return None if row is None else DictationAnswer(*row)

    def _states(
        self, account_id: int, condition: ColumnElement[bool]
    ) -> tuple[DictationState, ...]:
        d, m, a = dictations.c, class_members.c, dictation_answers.c
        query = (
            select(
                d.uid,
                classes.c.uid.label("class_uid"),
                classes.c.name.label("class_name"),
                d.phase,
                d.revision,
                a.text,
                a.handed_in_at,
            )
            .join(classes, classes.c.id == d.class_id)
            .join(class_members, m.class_id == d.class_id)
            .outerjoin(dictation_answers, (a.dictation_id == d.id) & (a.account_id == m.account_id))
            .where(condition, m.account_id == account_id, m.role == "learner", m.left_at.is_(None))
            .order_by(d.id.desc())
        )
        with self._database.reading() as connection:
            return tuple(read_state(dict(row)) for row in connection.execute(query).mappings())
