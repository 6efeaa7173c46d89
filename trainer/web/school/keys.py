"""The keys with which a system signs (JWKS, RFC 7517), and the check of what it signed.

Systems change their keys. The keys are kept for an hour; a token signed with one that is not among
them has them fetched again. A system is asked at most once a minute, also while it does not answer,
so that made-up tokens do not make the server ask and ask. While it does not answer, the keys that
are kept count on.
"""

from __future__ import annotations

import logging
import threading
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from trainer.errors import SignInElsewhereFailed

if TYPE_CHECKING:
    from joserfc.jwk import KeySet

    from trainer.web.school.fetching import Fetcher

__all__ = ["ALGORITHMS", "LEEWAY", "Keys", "checked_claims", "not_believed"]

KEPT = timedelta(hours=1)
ASKED_AGAIN_AFTER = timedelta(minutes=1)
# How far the clocks of two machines may be apart.
LEEWAY = timedelta(minutes=1)
# Signatures with a private key only: "none", and those with a shared secret (HS256), are refused.
ALGORITHMS = (
    "RS256", "RS384", "RS512", "PS256", "PS384", "PS512", "ES256", "ES384", "ES512", "EdDSA",
)  # fmt: skip
_LOG = logging.getLogger(__name__)
_KEY_TYPES = frozenset({"RSA", "EC", "OKP"})


class Keys:
    """The public keys of a system.

    Parameters
    ----------
    clock : gives the moment, aware and in UTC.
    """

    def __init__(self, fetcher: Fetcher, clock: Callable[[], datetime]) -> None:
        self._fetcher, self._clock = fetcher, clock
        self._lock = threading.Lock()
        self._kept: KeySet | None = None
        self._address = ""
        self._fetched_at: datetime | None = None
        self._tried_at: datetime | None = None

    def verify(self, token: str, address: str) -> tuple[dict[str, Any], dict[str, Any]]:
        """Header and claims of a token that was signed with one of the keys at an address.

        Raises
        ------
        SignInElsewhereFailed
            If it was not, or the keys cannot be had.
        """
        from joserfc import jwt
        from joserfc.errors import InvalidKeyIdError, JoseError

        keys = self._get(address, max_age=KEPT)
        try:
            try:
                found = jwt.decode(token, keys, algorithms=ALGORITHMS)
            except InvalidKeyIdError:
                keys = self._get(address, max_age=ASKED_AGAIN_AFTER)
                found = jwt.decode(token, keys, algorithms=ALGORITHMS)
        # A header that is not as it should be may have joserfc raise any of these.
        except (JoseError, TypeError, ValueError) as error:
            raise not_believed(self._fetcher.name, f"the signature: {error!r}") from error
        return dict(found.header), dict(found.claims)

    def _get(self, address: str, max_age: timedelta) -> KeySet:
        """The keys, not older than that unless the system does not answer.

        Raises
        ------
        SignInElsewhereFailed
            If no keys are kept and there are none to be had.
        """
        with self._lock:
            now = self._clock()
            if self._address != address:
                self._kept = self._fetched_at = self._tried_at = None
                self._address = address
            if _is_past(self._fetched_at, max_age, now) and _is_past(
                self._tried_at, ASKED_AGAIN_AFTER, now
            ):
                self._tried_at = now
                self._refresh(address, now)
            if self._kept is None:
                raise self._fetcher.no_answer(f"{address}: no keys a moment ago")
            return self._kept

    def _refresh(self, address: str, now: datetime) -> None:
        """Fetch the keys; those that are kept stay if the system does not answer."""
        try:
            self._kept, self._fetched_at = self._fetch(address), now
        except SignInElsewhereFailed as problem:
            if self._kept is None:
                raise
            _LOG.warning("the keys kept from before are used on: %s (%s)", problem, problem.why)

    def _fetch(self, address: str) -> KeySet:
        from joserfc.errors import JoseError
        from joserfc.jwk import KeySet

        found = self._fetcher.json(address).get("keys")
        usable = [
            key
            for key in (found if isinstance(found, list) else [])
            if isinstance(key, dict)
            and key.get("kty") in _KEY_TYPES
            and key.get("use", "sig") == "sig"
        ]
        try:
            return KeySet.import_key_set({"keys": usable})
        except (JoseError, ValueError) as error:
            raise self._fetcher.no_answer(f"{address}: {error!r}") from error


def checked_claims(
    token: tuple[dict[str, Any], dict[str, Any]],
    expected: Mapping[str, str],
    now: datetime,
    name: str,
    access_token: str | None = None,
) -> dict[str, Any]:
    """The claims of an ID token (OpenID Connect Core 1.0, section 3.1.3.7).

    Parameters
    ----------
    token : header and claims, the signature checked.
    expected : the values of `iss`, `aud` (this server's client id) and `nonce`.
    name : how people know the system.

    Raises
    ------
    SignInElsewhereFailed
        If a claim is missing or another one, or the token has expired.
    """
    from authlib.oidc.core import CodeIDToken
    from joserfc.errors import JoseError

    header, claims = token
    options: Any = {key: {"essential": True, "value": expected[key]} for key in ("iss", "aud")}
    params = {"nonce": expected["nonce"], "client_id": expected["aud"]}
    if access_token is not None:
        params["access_token"] = access_token
    checked = CodeIDToken(claims, header, options, params)
    try:
        checked.validate(now=int(now.timestamp()), leeway=int(LEEWAY.total_seconds()))
    except (JoseError, TypeError, ValueError) as error:
        raise not_believed(name, f"the ID token: {error!r}") from error
    subject = claims["sub"]
    if not isinstance(subject, str) or not 0 < len(subject) <= 255:
        raise not_believed(name, f"the ID token: sub {subject!r}")
    return claims


def _is_past(moment: datetime | None, span: timedelta, now: datetime) -> bool:
    """Whether a moment is at least that long ago, or there was none."""
    return moment is None or now - moment >= span


def not_believed(name: str, why: str) -> SignInElsewhereFailed:
    """What somebody is told whose sign-in cannot be believed."""
    return SignInElsewhereFailed(
        f"The answer from {name} can't be trusted, so you aren't signed in. Try again. If it "
        "happens again, tell the owner of this server.",
        why,
    )
