"""The systems of a school that a class server believes, ready to be asked."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.classroom import VouchedPeople
from trainer.web.school.asked import AskedCookies
from trainer.web.school.provider import Provider

if TYPE_CHECKING:
    import httpx2
    from fastapi import Request

    from trainer.store import Store
    from trainer.web.classroom.access import ClassServer

__all__ = ["Systems", "systems_of"]


@dataclass(frozen=True, slots=True)
class Systems:
    """What signing in by a school's systems needs; `provider` is None if there is no such one."""

    people: VouchedPeople
    asked: AskedCookies
    provider: Provider | None

    @classmethod
    def of(cls, server: ClassServer, store: Store, clock: Callable[[], datetime]) -> Systems:
        """The systems of the server's settings."""
        openid = server.school.openid
        transport: httpx2.BaseTransport | None = server.transport
        return cls(
            VouchedPeople(store, clock, server.accounts),
            AskedCookies(store, clock, is_secure=server.is_secure),
            None if openid is None else Provider(openid, server.origin, clock, transport),
        )


def systems_of(request: Request) -> Systems:
    """The systems of the server that a request is for."""
    found: Systems = request.app.state.systems
    return found
