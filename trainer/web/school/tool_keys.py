"""The keys with which this server signs what it sends to learning platforms (RS256).

The 1EdTech Security Framework 1.0, section 5.1, asks for RSA. The private keys are in the store, so
that every server process has the same; the newest signs, and all are published.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from trainer.classroom.tokens import new_token

if TYPE_CHECKING:
    from joserfc.jwk import RSAKey

    from trainer.store import Repositories

__all__ = ["ToolKeys"]

BITS = 2048
# The name under which it is noted that the first key was made.
_FIRST = "first tool key"
LASTS = timedelta(minutes=5)


class ToolKeys:
    """The keys of a server; one is made if there is none.

    They are read from the store whenever they are used, so that a key that another process added
    is published and used too.

    Parameters
    ----------
    clock : gives the moment, aware and in UTC.
    """

    def __init__(self, store: Repositories, clock: Callable[[], datetime]) -> None:
        self._store, self._clock = store, clock
        self._imported: dict[str, RSAKey] = {}
        if not store.lti.private_keys():
            self._make_first()

    def published(self) -> dict[str, Any]:
        """The public keys (JWKS, RFC 7517)."""
        return {
            "keys": [
                key.as_dict(private=False) | {"use": "sig", "alg": "RS256"} for key in self._keys()
            ]
        }

    def sign(self, claims: Mapping[str, Any]) -> str:
        """A token with these claims that holds for five minutes and is like no other."""
        from joserfc import jwt

        key, now = self._keys()[-1], int(self._clock().timestamp())
        usual = {"iat": now, "exp": now + int(LASTS.total_seconds())}
        unique = {"jti": secrets.token_urlsafe(), "nonce": secrets.token_urlsafe()}
        return jwt.encode({"alg": "RS256", "kid": key.kid}, usual | unique | dict(claims), key)

    def _make_first(self) -> None:
        """Make a key, unless another process makes one at the same time."""
        from joserfc.jwk import RSAKey

        pem = RSAKey.generate_key(BITS).as_pem(private=True).decode("ascii")

        def work(within: Repositories) -> None:
            # The name of the note is unique: a second process waits here until the first one has
            # stored its key.
            within.server_secrets.get_or_add(_FIRST, new_token, self._clock())
            if not within.lti.private_keys():
                within.lti.add_key(pem, self._clock())

        self._store.transact(work)

    def _keys(self) -> list[RSAKey]:
        """The keys that are in the store now, oldest first."""
        return [self._import(pem) for pem in self._store.lti.private_keys()]

    def _import(self, pem: str) -> RSAKey:
        from joserfc.jwk import RSAKey

        found = self._imported.get(pem)
        if found is None:
            found = RSAKey.import_key(pem)
            found.ensure_kid()
            self._imported[pem] = found
        return found
