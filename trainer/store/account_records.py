"""Accounts as the store takes and gives them: frozen values, free of SQL."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any

from trainer.store.records import Learner

__all__ = [
    "Account",
    "AccountLink",
    "AuditEntry",
    "Failures",
    "Identity",
    "NewAccount",
    "Role",
    "Session",
    "SignedIn",
]


class Role(StrEnum):
    """What an account may do: look after the server, teach classes, or learn."""

    OWNER = "owner"
    TEACHER = "teacher"
    LEARNER = "learner"


@dataclass(frozen=True, slots=True)
class NewAccount:
    """An account to be made; `password_hash` is None for somebody who signs in elsewhere."""

    sign_in: str
    shown_name: str
    role: Role
    password_hash: str | None = None


@dataclass(frozen=True, slots=True)
class Account:
    """Who signs in.

    `id` is the store's own number, `uid` a lasting id. `sign_in` is the folded name that somebody
    types to sign in, `shown_name` what pages call the person. `password_at` is when the password
    was last set. An account with `disabled_at` cannot sign in.
    """

    id: int
    uid: str
    learner_id: int
    sign_in: str
    shown_name: str
    password_hash: str | None
    password_at: datetime | None
    role: Role
    made_at: datetime
    disabled_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Session:
    """A browser that is signed in; it ends at `expires_at`, or `idle_s` seconds after `seen_at`.

    `client` says in words what somebody signed in from.
    """

    id: int
    account_id: int
    made_at: datetime
    seen_at: datetime
    expires_at: datetime
    idle_s: int
    client: str


@dataclass(frozen=True, slots=True)
class SignedIn:
    """A session with the account and the learner it belongs to."""

    session: Session
    account: Account
    learner: Learner


@dataclass(frozen=True, slots=True)
class AccountLink:
    """A link that works once: it sets the password of the account with `account_id`, or, without
    one, makes an account of `role`."""

    id: int
    account_id: int | None
    role: Role | None
    made_at: datetime
    expires_at: datetime
    used_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Identity:
    """Who an account is to a school's own system: what the issuer, known by its address, calls the
    person."""

    id: int
    account_id: int
    issuer: str
    subject: str
    made_at: datetime
    used_at: datetime


@dataclass(frozen=True, slots=True)
class Failures:
    """How many failed sign-ins there were, and when the last one was (None: there were none)."""

    count: int
    last_at: datetime | None


@dataclass(frozen=True, slots=True)
class AuditEntry:
    """What was changed: when, by whom (the uid of an account, None for the program or somebody at
    the machine), what was done to which subject, and its values before and after."""

    id: int
    at: datetime
    who: str | None
    what: str
    subject: str
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None
