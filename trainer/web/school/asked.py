"""What a browser keeps between being sent to a school's system and coming back.

It is a cookie: signed, HttpOnly, SameSite=Lax, for ten minutes. State, nonce and PKCE verifier are
worked out from a random value in it with a secret of the server. So they belong to this browser
alone, and the server keeps nothing of people who have not signed in.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from itsdangerous import BadData, URLSafeSerializer

from trainer.classroom import Ticket
from trainer.classroom.tokens import digest_of, is_same, new_token, sign
from trainer.errors import SignInElsewhereFailed
from trainer.web.classroom.cookies import cookie_name

if TYPE_CHECKING:
    from fastapi import Request, Response

    from trainer.store import Repositories

__all__ = ["Asked", "AskedCookies"]

LASTS = timedelta(minutes=10)
_SECRET = "asked elsewhere"  # noqa: S105 - the name under which it is kept
TOO_LATE = (
    "This sign-in took too long, or began in another window. Start again from the sign-in page."
)


@dataclass(frozen=True, slots=True)
class Asked:
    """A sign-in that a browser began.

    `at` is when, in seconds after 1970. `then` is where it leads, `is_shared` says whether other
    people use the computer, and `connects` is the uid of the account that is to be connected, ""
    for signing in. `of` names the learning platform that is asked, "" for the OpenID provider.
    """

    secret: str
    value: str
    at: int
    then: str = ""
    is_shared: bool = False
    connects: str = ""
    of: str = ""

    @property
    def state(self) -> str:
        """Shows that an answer belongs to this sign-in."""
        return sign(self.secret, f"state {self.value}")

    @property
    def nonce(self) -> str:
        """Shows that a token was made for this sign-in."""
        return sign(self.secret, f"nonce {self.value}")

    @property
    def verifier(self) -> str:
        """The PKCE code verifier, which shows that the code is exchanged by whoever began the
        sign-in (RFC 7636). It has 64 characters; 43 to 128 are allowed."""
        return sign(self.secret, f"verifier {self.value}")

    @property
    def ticket(self) -> Ticket:
        """The ticket that lets this sign-in be used only once."""
        # Kept longer than the cookie is believed, whichever server's clock is asked.
        until = datetime.fromtimestamp(self.at, UTC) + 2 * LASTS
        return Ticket(digest_of(self.state), until)


class AskedCookies:
    """The cookies of sign-ins that have begun.

    Parameters
    ----------
    store : where the server's secret is kept.
    clock : gives the moment, aware and in UTC.
    is_secure : whether the server is reached over TLS.
    """

    def __init__(
        self, store: Repositories, clock: Callable[[], datetime], *, is_secure: bool
    ) -> None:
        self._secret = store.server_secrets.get_or_add(_SECRET, new_token, clock())
        self._clock, self._is_secure = clock, is_secure
        self._name = cookie_name("asked", is_secure=is_secure)
        self._serializer = URLSafeSerializer(
            self._secret, "asked", signer_kwargs={"digest_method": hashlib.sha256}
        )

    def begin(
        self, *, then: str = "", is_shared: bool = False, connects: str = "", of: str = ""
    ) -> Asked:
        """A new sign-in."""
        at = int(self._clock().timestamp())
        return Asked(self._secret, new_token(), at, then, is_shared, connects, of)

    def keep(self, answer: Response, asked: Asked) -> None:
        """Have a browser keep a sign-in."""
        value = [asked.value, asked.at, asked.then, asked.is_shared, asked.connects, asked.of]
        answer.set_cookie(
            self._name,
            str(self._serializer.dumps(value)),
            max_age=int(LASTS.total_seconds()),
            path="/",
            httponly=True,
            samesite="lax",
            secure=self._is_secure,
        )

    def forget(self, answer: Response) -> None:
        """Have a browser keep none."""
        answer.delete_cookie(
            self._name, path="/", httponly=True, samesite="lax", secure=self._is_secure
        )

    def find(self, request: Request, state: str) -> Asked:
        """The sign-in that a browser began and an answer belongs to.

        Raises
        ------
        SignInElsewhereFailed
            If the browser began none, another one, or one too long ago.
        """
        try:
            value, at, then, is_shared, connects, of = self._serializer.loads(
                request.cookies.get(self._name, "")
            )
        except (BadData, ValueError, TypeError) as error:
            raise SignInElsewhereFailed(TOO_LATE, "the browser has no sign-in under way") from error
        asked = Asked(self._secret, value, at, then, is_shared, connects, of)
        age = self._clock().timestamp() - at
        if not is_same(state, asked.state) or age > LASTS.total_seconds():
            raise SignInElsewhereFailed(TOO_LATE, f"another state, or {age:.0f} s old")
        return asked
