"""The systems of a school that a class server believes, ready to be asked."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from itsdangerous import BadData, URLSafeTimedSerializer

from trainer.classroom import Courses, VouchedPeople
from trainer.classroom.passback import Passback
from trainer.classroom.tokens import new_token
from trainer.web.school.asked import AskedCookies
from trainer.web.school.platform import Platform
from trainer.web.school.provider import Provider
from trainer.web.school.scores import ScoreSender
from trainer.web.school.tool_keys import ToolKeys

if TYPE_CHECKING:
    from fastapi import Request

    from trainer.store import Store
    from trainer.web.classroom.access import ClassServer

__all__ = ["Learning", "Systems", "Wish", "systems_of"]

_SECRET = "choices for courses"  # noqa: S105 - the name under which it is kept
# A teacher who chooses for a course may look around first.
CHOICE_LASTS_S = 3600


@dataclass(frozen=True, slots=True)
class Wish:
    """The request of a platform that a teacher choose an assignment for a link of a course.

    It names the class that the assignment is of, and holds what the answer to the platform needs.
    """

    class_uid: str
    platform: str
    deployment: str
    back: str
    data: str | None


@dataclass(frozen=True, slots=True)
class Learning:
    """What the server needs to work with learning platforms."""

    platforms: tuple[Platform, ...]
    courses: Courses
    keys: ToolKeys
    choices: URLSafeTimedSerializer
    passback: Passback

    @classmethod
    def of(cls, server: ClassServer, store: Store, clock: Callable[[], datetime]) -> Learning:
        """What the platforms of the server's settings need."""
        platforms = tuple(
            Platform(each, server.origin, clock, server.transport)
            for each in server.school.platforms
        )
        keys = ToolKeys(store, clock)
        secret = store.server_secrets.get_or_add(_SECRET, new_token, clock())
        return cls(
            platforms,
            Courses(store, clock, server.accounts),
            keys,
            URLSafeTimedSerializer(secret, signer_kwargs={"digest_method": hashlib.sha256}),
            Passback(store, clock, ScoreSender(platforms, keys, clock).send),
        )

    def platform(self, issuer: str, client_id: str) -> Platform | None:
        """The platform of an issuer that knows this server by a client id, if it says by which."""
        for each in self.platforms:
            if each.settings.issuer == issuer and client_id in {"", each.settings.client_id}:
                return each
        return None

    def by_key(self, key: str) -> Platform | None:
        """The platform of that key."""
        return next((each for each in self.platforms if each.key == key), None)

    def wish(self, signed: str, account_uid: str) -> Wish | None:
        """What an account was asked to choose; None if it was not asked, or too long ago."""
        try:
            account, *found = self.choices.loads(signed, max_age=CHOICE_LASTS_S)
        except (BadData, ValueError, TypeError):
            return None
        return Wish(*found) if account == account_uid else None


@dataclass(frozen=True, slots=True)
class Systems:
    """What signing in by a school's systems needs; `provider` and `learning` are None if there is
    no such system."""

    people: VouchedPeople
    asked: AskedCookies
    provider: Provider | None
    learning: Learning | None

    @classmethod
    def of(cls, server: ClassServer, store: Store, clock: Callable[[], datetime]) -> Systems:
        """The systems of the server's settings."""
        school = server.school
        return cls(
            VouchedPeople(store, clock, server.accounts),
            AskedCookies(store, clock, is_secure=server.is_secure),
            None
            if school.openid is None
            else Provider(school.openid, server.origin, clock, server.transport),
            Learning.of(server, store, clock) if school.platforms else None,
        )


def systems_of(request: Request) -> Systems:
    """The systems of the server that a request is for."""
    found: Systems = request.app.state.systems
    return found
