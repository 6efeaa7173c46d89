"""An OpenID provider: OpenID Connect Core 1.0 by the authorisation code flow, with PKCE (RFC 7636).

Authlib makes and reads the messages, joserfc checks the signatures.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from trainer.classroom import Vouched
from trainer.errors import SignInElsewhereFailed
from trainer.store import Role
from trainer.web.school.fetching import Fetcher
from trainer.web.school.keys import Keys, checked_claims, not_believed
from trainer.web.school.settings import OpenIdSettings, is_safe_address

if TYPE_CHECKING:
    import httpx2
    from authlib.integrations.httpx_client import OAuth2Client

    from trainer.web.school.asked import Asked

__all__ = ["Provider", "refused_by"]

# What the provider says of itself is asked again after this time.
KEPT = timedelta(hours=1)
_NEEDED = ("authorization_endpoint", "token_endpoint", "jwks_uri")


class Provider:
    """An OpenID provider, as its settings name it.

    Parameters
    ----------
    origin : this server's own address; the provider sends people back there.
    clock : gives the moment, aware and in UTC.
    transport : how requests travel; the network, unless testing.
    """

    BACK = "/sign-in/school/back"

    def __init__(
        self,
        settings: OpenIdSettings,
        origin: str,
        clock: Callable[[], datetime],
        transport: httpx2.BaseTransport | None = None,
    ) -> None:
        self.settings, self._clock = settings, clock
        self._redirect = f"{origin}{self.BACK}"
        self._fetcher = Fetcher(settings.name, transport)
        self._keys = Keys(self._fetcher, clock)
        self._lock = threading.Lock()
        self._kept: dict[str, Any] = {}
        self._fetched_at = clock()

    @property
    def name(self) -> str:
        """How people know it."""
        return self.settings.name

    def address_for(self, asked: Asked) -> str:
        """Where a browser is sent to sign in. Raises SignInElsewhereFailed."""
        with self._client() as client:
            address, _ = client.create_authorization_url(
                self._metadata()["authorization_endpoint"],
                state=asked.state,
                code_verifier=asked.verifier,
                nonce=asked.nonce,
            )
        return str(address)

    def person(self, code: str, issuer: str, asked: Asked) -> Vouched:
        """Who somebody is who came back with a code.

        `issuer` is what the provider says of itself in the address ("" for nothing): so the answer
        of another one is not taken for its own (RFC 9207).

        Raises
        ------
        SignInElsewhereFailed
            If the provider does not answer, or its answer cannot be believed.
        """
        metadata = self._metadata()
        is_told = metadata.get("authorization_response_iss_parameter_supported") is True
        if issuer != self.settings.issuer and (issuer or is_told):
            raise not_believed(self.name, f"iss {issuer!r} in the address of the answer")
        answer = self._exchange(code, asked, metadata["token_endpoint"])
        token = answer.get("id_token")
        if not isinstance(token, str):
            raise not_believed(self.name, "found no id_token in the answer")
        signed = self._keys.verify(token, metadata["jwks_uri"])
        expected = {
            "iss": self.settings.issuer,
            "aud": self.settings.client_id,
            "nonce": asked.nonce,
        }
        access = answer.get("access_token")
        claims = checked_claims(signed, expected, self._clock(), self.name, access)
        return _vouched(self.settings, claims)

    def _exchange(self, code: str, asked: Asked, address: str) -> dict[str, Any]:
        """What the provider gives for a code."""
        import httpx2
        from authlib.common.errors import AuthlibBaseError

        try:
            with self._client() as client:
                found = client.fetch_token(
                    address,
                    grant_type="authorization_code",
                    code=code,
                    code_verifier=asked.verifier,
                )
        except AuthlibBaseError as error:
            # The code was used, is too old, or was given to another client.
            raise not_believed(self.name, f"{address}: {error!r}") from error
        except (httpx2.HTTPError, httpx2.InvalidURL, ValueError) as error:
            raise self._fetcher.no_answer(f"{address}: {error!r}") from error
        return dict(found)

    def _client(self) -> OAuth2Client:
        from authlib.integrations.httpx_client import OAuth2Client

        settings = self.settings
        method = "client_secret_basic" if settings.client_secret else "none"
        supported = self._metadata().get("token_endpoint_auth_methods_supported")
        if settings.client_secret and isinstance(supported, list) and method not in supported:
            method = "client_secret_post"
        return OAuth2Client(
            settings.client_id,
            settings.client_secret,
            token_endpoint_auth_method=method,
            scope=settings.scope,
            redirect_uri=self._redirect,
            code_challenge_method="S256",
            **self._fetcher.options(),
        )

    def _metadata(self) -> dict[str, Any]:
        """What the provider says of itself (OpenID Connect Discovery 1.0)."""
        with self._lock:
            now = self._clock()
            if not self._kept or now - self._fetched_at >= KEPT:
                self._kept, self._fetched_at = self._discover(), now
            return self._kept

    def _discover(self) -> dict[str, Any]:
        issuer = self.settings.issuer
        address = f"{issuer.removesuffix('/')}/.well-known/openid-configuration"
        found = self._fetcher.json(address)
        if found.get("issuer") != issuer:
            raise not_believed(
                self.name, f"{address}: found the issuer {found.get('issuer')!r}, expected {issuer}"
            )
        for name in _NEEDED:
            value = found.get(name)
            if not isinstance(value, str) or not is_safe_address(value):
                raise not_believed(self.name, f"{address}: {name} {value!r}")
        return found


def _vouched(settings: OpenIdSettings, claims: Mapping[str, Any]) -> Vouched:
    """What claims that were checked say of somebody, by the rules of the settings."""
    is_teacher = settings.teachers is not None and settings.teachers.fits(claims)
    is_learner = settings.learners is not None and settings.learners.fits(claims)
    wish = claims.get(settings.sign_in_claim)
    shown = claims.get("name") or wish
    return Vouched(
        settings.issuer,
        claims["sub"],
        settings.name,
        wish if isinstance(wish, str) else "",
        shown if isinstance(shown, str) else "",
        Role.TEACHER if is_teacher else Role.LEARNER if is_learner else None,
        is_teacher,
    )


def refused_by(name: str, error: str) -> SignInElsewhereFailed:
    """What somebody is told whom a system sends back with an error (RFC 6749, section 4.1.2.1)."""
    if error == "access_denied":
        text = f"{name} didn't sign you in, or you stopped there. Try again if you want to."
    else:
        text = f"{name} couldn't sign you in. Try again. If it happens again, tell the owner."
    return SignInElsewhereFailed(text, f"the answer is the error {error[:200]!r}")
