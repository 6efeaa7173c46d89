"""The repository of learning platforms (LTI): keys, courses, line items, scores on their way."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime
from hashlib import sha256
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, func, insert, select, update
from sqlalchemy.exc import IntegrityError

from trainer.errors import StoreConflict
from trainer.store.assignment_tables import (
    assigned,
    assigned_attempts,
    assignment_items,
    assignments,
)
from trainer.store.database import Database, upsert
from trainer.store.lti_tables import courses, line_items, passback, tool_keys
from trainer.store.records import as_utc
from trainer.store.school_tables import identities

__all__ = ["DueScore", "Lti", "Waiting", "mark_due"]


@dataclass(frozen=True, slots=True)
class DueScore:
    """A learner's score that is to be sent: to which line item of which platform, for what, and how
    often it was tried. `subject` is the learner's number there."""

    line_item_id: int
    account_id: int
    issuer: str
    client_id: str
    address: str
    assignment_id: int
    subject: str
    due_at: datetime
    tries: int


@dataclass(frozen=True, slots=True)
class Waiting:
    """How many scores of an assignment were sent and how many wait, and what was wrong last."""

    sent: int
    waiting: int
    problem: str | None


class Lti:
    """What is known of learning platforms."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def private_keys(self) -> tuple[str, ...]:
        """The private keys of the server as PEM, oldest first."""
        with self._database.reading() as connection:
            return tuple(connection.scalars(select(tool_keys.c.pem).order_by(tool_keys.c.id)))

    def add_key(self, pem: str, at: datetime) -> None:
        """Store another private key."""
        row = {"pem": pem, "made_at": as_utc(at, "time of a new key")}
        with self._database.writing() as connection:
            connection.execute(insert(tool_keys).values(row))

    def class_of(self, issuer: str, deployment: str, context: str) -> int | None:
        """The number of the class of a platform's course; None if it has none."""
        c = courses.c
        query = select(c.class_id).where(
            c.issuer == issuer, c.deployment == deployment, c.context == context
        )
        with self._database.reading() as connection:
            found: int | None = connection.execute(query).scalar()
        return found

    def add_course(
        self, issuer: str, deployment: str, context: str, class_id: int, at: datetime
    ) -> None:
        """Store the class of a platform's course. Raises StoreConflict if it got one meanwhile."""
        row = {
            "issuer": issuer,
            "deployment": deployment,
            "context": context,
            "class_id": class_id,
            "made_at": as_utc(at, "time of a new course"),
        }
        with self._database.writing() as connection:
            try:
                connection.execute(insert(courses).values(row))
            except IntegrityError as error:
                raise StoreConflict("somebody else gave this course a class meanwhile") from error

    def add_line_item(
        self, issuer: str, client_id: str, address: str, assignment_id: int, at: datetime
    ) -> None:
        """Store where a platform takes the scores of an assignment; those there are become due.

        A line item that is known stays as it is.
        """
        digest = sha256(address.encode()).hexdigest()
        moment = as_utc(at, "time of a new line item")
        c = line_items.c
        known = select(c.id).where(c.address_digest == digest, c.assignment_id == assignment_id)
        row = {
            "issuer": issuer,
            "client_id": client_id,
            "address": address,
            "address_digest": digest,
            "assignment_id": assignment_id,
            "made_at": moment,
        }
        with self._database.writing() as connection:
            if connection.execute(known).first() is not None:
                return
            try:
                connection.execute(insert(line_items).values(row))
            except IntegrityError as error:
                raise StoreConflict("somebody else stored this line item meanwhile") from error
            chosen = _answered().where(
                line_items.c.address_digest == digest, line_items.c.assignment_id == assignment_id
            )
            _mark(connection, chosen, moment)

    def due(self, now: datetime, most: int) -> tuple[DueScore, ...]:
        """Scores that are to be sent by now, the longest due first.

        Those of results that learners do not see by now are left out.
        """
        moment = as_utc(now, "now")
        query = (
            select(
                passback.c.line_item_id,
                passback.c.account_id,
                line_items.c.issuer,
                line_items.c.client_id,
                line_items.c.address,
                line_items.c.assignment_id,
                identities.c.subject,
                passback.c.due_at,
                passback.c.tries,
            )
            .join(line_items, line_items.c.id == passback.c.line_item_id)
            .join(identities, _has_number())
            .join(assignments, assignments.c.id == line_items.c.assignment_id)
            .where(passback.c.due_at <= moment, _shows_results(moment))
            .order_by(passback.c.due_at, passback.c.line_item_id, passback.c.account_id)
            .limit(most)
        )
        with self._database.reading() as connection:
            return tuple(DueScore(*row) for row in connection.execute(query))

    def claim(self, score: DueScore, until: datetime) -> DueScore | None:
        """Take a score to send it, so that no other server does until then; None if one has."""
        moment = as_utc(until, "end of a claim")
        claiming = update(passback).where(*_is(score)).values(due_at=moment)
        with self._database.writing() as connection:
            if not connection.execute(claiming).rowcount:
                return None
        return replace(score, due_at=moment)

    def sent(self, score: DueScore, value: float | None, at: datetime) -> None:
        """Note that a claimed score was sent, or that there is none (None)."""
        values: dict[str, Any] = {"due_at": None, "tries": 0, "problem": None}
        if value is not None:
            values |= {"sent_score": value, "sent_at": as_utc(at, "time of sending")}
        self._change(score, values)

    def later(self, score: DueScore, due_at: datetime, problem: str | None = None) -> None:
        """Put a claimed score off; with a `problem`, this was a try that failed."""
        values: dict[str, Any] = {"due_at": as_utc(due_at, "time of the next try")}
        if problem is not None:
            values |= {"tries": score.tries + 1, "problem": problem}
        self._change(score, values)

    def waiting(self, assignment_id: int) -> Waiting | None:
        """How the scores of an assignment are on their way; None if no platform takes them.

        Scores of accounts that the platform does not know wait for nothing and are not counted.
        """
        p, c = passback.c, line_items.c
        items = select(c.id).where(c.assignment_id == assignment_id)
        sent_ones = select(func.count(p.sent_at)).where(p.line_item_id.in_(items))
        waits = (
            c.id == p.line_item_id,
            c.assignment_id == assignment_id,
            p.due_at.is_not(None),
            select(identities.c.id).where(_has_number()).exists(),
        )
        waiting_ones = select(func.count()).select_from(passback, line_items).where(*waits)
        problem = select(p.problem).where(*waits, p.problem.is_not(None)).limit(1)
        with self._database.reading() as connection:
            if connection.execute(items.limit(1)).first() is None:
                return None
            sent, waiting = connection.scalar(sent_ones), connection.scalar(waiting_ones)
            return Waiting(sent or 0, waiting or 0, connection.execute(problem).scalar())

    def _change(self, score: DueScore, values: dict[str, Any]) -> None:
        """Change a claimed score, unless it became due again meanwhile."""
        with self._database.writing() as connection:
            connection.execute(update(passback).where(*_is(score)).values(values))


def mark_due(connection: Connection, attempt_ids: Collection[int], at: datetime) -> None:
    """Have the scores of whoever made some attempts be sent, wherever a platform takes them.

    It is called in the transaction that stores a grade.
    """
    chosen = _answered().where(assigned_attempts.c.attempt_id.in_(attempt_ids))
    _mark(connection, chosen, as_utc(at, "time of a grade"))


def _mark(connection: Connection, chosen: Select[Any], moment: datetime) -> None:
    rows = [
        {"line_item_id": row[0], "account_id": row[1], "due_at": moment, "tries": 0}
        for row in connection.execute(chosen)
    ]
    upsert(connection, passback, rows, replace=["due_at", "tries"])


def _answered() -> Select[Any]:
    """Line items with the accounts that handed something in for them."""
    return (
        select(line_items.c.id, assigned.c.account_id)
        .distinct()
        .join(assignment_items, assignment_items.c.assignment_id == line_items.c.assignment_id)
        .join(assigned, assigned.c.item_id == assignment_items.c.id)
        .join(assigned_attempts, assigned_attempts.c.assigned_id == assigned.c.id)
    )


def _has_number() -> ColumnElement[bool]:
    """Picks the identity by which the platform of a line item knows the learner of a score."""
    return (identities.c.account_id == passback.c.account_id) & (
        identities.c.issuer == line_items.c.issuer
    )


def _shows_results(moment: datetime) -> ColumnElement[bool]:
    """Picks assignments whose results are shown (`Assignment.shows_results`)."""
    a = assignments.c
    has_ended = (a.closes_at <= moment) & (a.late_until.is_(None) | (a.late_until <= moment))
    return (a.results == "at once") | (a.shown_at <= moment) | ((a.results == "closed") & has_ended)


def _is(score: DueScore) -> tuple[Any, ...]:
    """Picks the row of a score as it was read."""
    p = passback.c
    return (
        p.line_item_id == score.line_item_id,
        p.account_id == score.account_id,
        p.due_at == score.due_at,
    )
