"""The keys with which this server signs what it sends to learning platforms (RS256).

The 1EdTech Security Framework 1.0, section 5.1, asks for RSA. The private keys are in the store, so
that every server process has the same; the newest signs, and all are published.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from joserfc.jwk import RSAKey

    from trainer.store import Repositories

__all__ = ["ToolKeys"]

BITS = 2048
LASTS = timedelta(minutes=5)


class ToolKeys:
    """The keys of a server; one is made if there is none.

    Parameters
    ----------
    clock : gives the moment, aware and in UTC.
    """

    def __init__(self, store: Repositories, clock: Callable[[], datetime]) -> None:
        from joserfc.jwk import RSAKey

        self._clock = clock
        if not store.lti.private_keys():
            made = RSAKey.generate_key(BITS)
            store.lti.add_key(made.as_pem(private=True).decode("ascii"), clock())
        self._keys: list[RSAKey] = [RSAKey.import_key(pem) for pem in store.lti.private_keys()]
        for key in self._keys:
            key.ensure_kid()

    def published(self) -> dict[str, Any]:
        """The public keys (JWKS, RFC 7517)."""
        return {
            "keys": [
                key.as_dict(private=False) | {"use": "sig", "alg": "RS256"} for key in self._keys
            ]
        }

    def sign(self, claims: Mapping[str, Any]) -> str:
        """A token with these claims that holds for five minutes and is like no other."""
        from joserfc import jwt

        key, now = self._keys[-1], int(self._clock().timestamp())
        usual = {"iat": now, "exp": now + int(LASTS.total_seconds())}
        unique = {"jti": secrets.token_urlsafe(), "nonce": secrets.token_urlsafe()}
        return jwt.encode({"alg": "RS256", "kid": key.kid}, usual | unique | dict(claims), key)
