"""An OpenID provider of the tests' own, and how a browser goes to it and back.

It speaks OpenID Connect Core 1.0 (authorisation code flow), Discovery 1.0, PKCE (RFC 7636, S256)
and client_secret_basic (RFC 6749, section 2.3.1), with real RS256 signatures. It can be told to
answer wrongly.
"""

from __future__ import annotations

import base64
import hashlib
import json
import secrets
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache
from typing import Any
from urllib.parse import parse_qs, unquote, urlsplit

from fastapi import FastAPI, Form, Request
from fastapi.responses import JSONResponse, RedirectResponse, Response
from fastapi.testclient import TestClient
from httpx2 import BaseTransport
from httpx2 import Response as Answer
from joserfc import jwt
from joserfc.jwk import RSAKey

from tests.classroom.people import Clock
from trainer.web.school.settings import ClaimRule, OpenIdSettings

ISSUER = "https://login.lockgate.example"
CLIENT, SECRET = "chart-trainer", "heron weir sluice"
NAME = "Lockgate School"
Claims = dict[str, Any]


@cache
def rsa_key(kid: str) -> RSAKey:
    """A key pair of that id; made once for all tests."""
    return RSAKey.generate_key(2048, {"kid": kid, "use": "sig"})


def settings(**changed: Any) -> OpenIdSettings:
    """What a server's owner says of the provider."""
    usual: dict[str, Any] = {
        "name": NAME, "issuer": ISSUER, "client_id": CLIENT, "client_secret": SECRET,
        "scope": "openid profile", "learners": ClaimRule(), "teachers": None,
        "sign_in_claim": "preferred_username",
    }  # fmt: skip
    return OpenIdSettings(**usual | changed)


@dataclass
class Asked:
    """What an authorisation request asked for."""

    redirect: str
    nonce: str
    challenge: str
    claims: Claims


@dataclass
class LockgateProvider:
    """The provider; `person` is who is signed in to it.

    `change` changes the claims of each token, `sign` signs them, and `metadata` and `answer` are
    added to what it says of itself and answers at the end.
    """

    clock: Clock
    person: Claims = field(
        default_factory=lambda: {
            "sub": "L-0017", "name": "Wren Halloway", "preferred_username": "wren",
            "email": "wren@lockgate.example", "groups": ["pupils"],
        }
    )  # fmt: skip
    keys: list[RSAKey] = field(default_factory=lambda: [rsa_key("first")])
    other_keys: list[Claims] = field(default_factory=list)
    change: Callable[[Claims], Claims] = lambda claims: claims
    sign: Callable[[Claims], str] | None = None
    metadata: Claims = field(default_factory=dict)
    answer: Claims = field(default_factory=dict)
    fetched: dict[str, int] = field(default_factory=dict)
    is_down: bool = False
    issuer: str = ISSUER

    def __post_init__(self) -> None:
        self._codes: dict[str, Asked] = {}
        app = FastAPI(openapi_url=None)
        app.add_api_route("/.well-known/openid-configuration", self._about)
        app.add_api_route("/keys", self._keys)
        app.add_api_route("/authorize", self._authorize)
        app.add_api_route("/token", self._token, methods=["POST"])
        app.middleware("http")(self._perhaps_down)
        self.app = app
        self.client = TestClient(app, base_url=ISSUER)

    @property
    def transport(self) -> BaseTransport:
        """How the server under test reaches it."""
        return self.client._transport

    def visit(self, browser: TestClient, place: str = "/sign-in/school") -> str:
        """A browser begins to sign in and is sent back: where to."""
        there = browser.get(place, follow_redirects=False)
        assert there.status_code == 303, there.text
        return self.signed_in_at(there.headers["location"])

    def signed_in_at(self, address: str) -> str:
        """The person signs in at the address of the provider: where they are sent back."""
        assert address.startswith(f"{ISSUER}/authorize?")
        sent = self.client.get(address, follow_redirects=False)
        assert sent.status_code == 303, sent.text
        return sent.headers["location"]

    def sign_in(self, browser: TestClient, place: str = "/sign-in/school") -> Answer:
        """A browser signs in by the provider: what the server answers at the end."""
        return browser.get(self.visit(browser, place), follow_redirects=False)

    async def _perhaps_down(self, request: Request, then: Any) -> Response:
        self.fetched[request.url.path] = self.fetched.get(request.url.path, 0) + 1
        if self.is_down:
            return Response("Bad gateway", 502)
        return await then(request)

    def _about(self) -> JSONResponse:
        return JSONResponse(
            {
                "issuer": self.issuer,
                "authorization_endpoint": f"{self.issuer}/authorize",
                "token_endpoint": f"{self.issuer}/token",
                "jwks_uri": f"{self.issuer}/keys",
                "response_types_supported": ["code"],
                "subject_types_supported": ["public"],
                "id_token_signing_alg_values_supported": ["RS256"],
            }
            | self.metadata
        )

    def _keys(self) -> JSONResponse:
        own = [key.as_dict(private=False) for key in self.keys]
        return JSONResponse({"keys": [*self.other_keys, *own]})

    def _authorize(self, request: Request) -> Response:
        asked = request.query_params
        assert asked["response_type"] == "code"
        assert asked["client_id"] == CLIENT
        assert "openid" in asked["scope"].split()
        assert asked["code_challenge_method"] == "S256"
        assert len(asked["state"]) >= 32
        code = secrets.token_urlsafe()
        self._codes[code] = Asked(
            asked["redirect_uri"], asked["nonce"], asked["code_challenge"], dict(self.person)
        )
        return RedirectResponse(f"{asked['redirect_uri']}?code={code}&state={asked['state']}", 303)

    def _token(
        self,
        request: Request,
        grant_type: str = Form(),
        code: str = Form(),
        redirect_uri: str = Form(),
        code_verifier: str = Form(),
    ) -> JSONResponse:
        if _client_of(request) != (CLIENT, SECRET):
            return JSONResponse({"error": "invalid_client"}, 401)
        # A code works once (RFC 6749, section 4.1.2).
        asked = self._codes.pop(code, None)
        if grant_type != "authorization_code" or asked is None or asked.redirect != redirect_uri:
            return JSONResponse({"error": "invalid_grant"}, 400)
        if asked.challenge != challenge_of(code_verifier):
            return JSONResponse({"error": "invalid_grant"}, 400)
        access = secrets.token_urlsafe()
        now = int(self.clock().timestamp())
        claims = self.change(
            {"iss": self.issuer, "aud": CLIENT, "iat": now, "exp": now + 300, "nonce": asked.nonce,
             "at_hash": half_hash(access)} | asked.claims
        )  # fmt: skip
        token = (self.sign or self.usual_signature)(claims)
        found = {"access_token": access, "token_type": "Bearer", "id_token": token}
        return JSONResponse(found | self.answer)

    def usual_signature(self, claims: Claims) -> str:
        """A token as it should be signed."""
        return signed(claims, self.keys[0])


def signed(claims: Claims, key: RSAKey, kid: str = "") -> str:
    """A token signed with a key (RS256), under its own id or another."""
    return jwt.encode({"alg": "RS256", "kid": kid or key.kid}, claims, key)


def unsigned(claims: Claims) -> str:
    """A token that is not signed (`alg` none, RFC 7518, section 3.6)."""
    parts = (base64.urlsafe_b64encode(json.dumps(one).encode()).rstrip(b"=").decode()
             for one in ({"alg": "none", "typ": "JWT"}, claims))  # fmt: skip
    return ".".join((*parts, ""))


def challenge_of(verifier: str) -> str:
    """The challenge of a PKCE verifier by S256 (RFC 7636, section 4.2)."""
    assert 43 <= len(verifier) <= 128
    digest = hashlib.sha256(verifier.encode("ascii")).digest()
    return base64.urlsafe_b64encode(digest).rstrip(b"=").decode()


def half_hash(access_token: str) -> str:
    """The claim at_hash for RS256 (OpenID Connect Core 1.0, section 3.1.3.6)."""
    digest = hashlib.sha256(access_token.encode("ascii")).digest()
    return base64.urlsafe_b64encode(digest[:16]).rstrip(b"=").decode()


def query_of(address: str) -> dict[str, str]:
    """The parameters of an address."""
    return {name: values[0] for name, values in parse_qs(urlsplit(address).query).items()}


def _client_of(request: Request) -> tuple[str, str]:
    kind, _, value = request.headers.get("authorization", "").partition(" ")
    name, _, secret = base64.b64decode(value).decode().partition(":") if value else ("", "", "")
    return (unquote(name), unquote(secret)) if kind == "Basic" else ("", "")
