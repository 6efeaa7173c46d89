"""Tokens that no provider would give: OpenID Connect Core 1.0, section 3.1.3.7, one by one."""

from __future__ import annotations

import base64
import json
from collections.abc import Callable
from contextlib import ExitStack
from typing import Any

import pytest
from joserfc import jwt
from joserfc.jwk import OctKey

from tests.web.classroom.school import School
from tests.web.fakes import FakeLibrary
from tests.web.school.platform import WeirPlatform
from tests.web.school.platform import settings as platform_settings
from tests.web.school.provider import (
    CLIENT,
    ISSUER,
    NAME,
    SECRET,
    Claims,
    LockgateProvider,
    rsa_key,
    settings,
    signed,
    unsigned,
)
from tests.web.school.test_openid import REFUSED, is_signed_in
from tests.web.test_reading import contents
from trainer.errors import SignInElsewhereFailed
from trainer.store import Store
from trainer.web.school.fetching import Fetcher
from trainer.web.school.keys import Keys
from trainer.web.school.settings import SchoolSettings


def other(**claims: Any) -> Callable[[Claims], Claims]:
    """Changes claims; None takes one away."""
    return lambda usual: {
        name: value for name, value in (usual | claims).items() if value is not None
    }


def shared_secret(claims: Claims) -> str:
    """A token signed with what the server and the provider both know (HS256)."""
    key = OctKey.import_key(SECRET.ljust(32))
    return jwt.encode({"alg": "HS256"}, claims, key, algorithms=["HS256"])


def public_key_as_secret(claims: Claims) -> str:
    """A token signed by HS256 with the provider's public key, which everybody knows."""
    key = OctKey.import_key(rsa_key("first").as_bytes(private=False).hex())
    return jwt.encode({"alg": "HS256", "kid": "first"}, claims, key, algorithms=["HS256"])


FORGED: dict[str, dict[str, Any]] = {
    "another nonce": {"change": other(nonce="x" * 64)},
    "no nonce": {"change": other(nonce=None)},
    "another audience": {"change": other(aud="another-client")},
    "another audience, ours authorised": {"change": other(aud="another-client", azp=CLIENT)},
    "two audiences, the other authorised": {
        "change": other(aud=[CLIENT, "another-client"], azp="another-client")
    },
    "no audience": {"change": other(aud=None)},
    "another issuer": {"change": other(iss="https://login.other.example")},
    "expired": {"change": lambda claims: claims | {"exp": claims["exp"] - 300 - 61}},
    "no expiry": {"change": other(exp=None)},
    "issued in the future": {"change": lambda claims: claims | {"iat": claims["iat"] + 600}},
    "no subject": {"change": other(sub=None)},
    "an empty subject": {"change": other(sub="")},
    "a subject that is a number": {"change": other(sub=17)},
    "another access token's hash": {"change": other(at_hash="AAAAAAAAAAAAAAAAAAAAAA")},
    "another key under the same id": {
        "sign": lambda claims: signed(claims, rsa_key("another"), "first")
    },
    "a key that nobody published": {"sign": lambda claims: signed(claims, rsa_key("another"))},
    "not signed": {"sign": unsigned},
    "a shared secret": {"sign": shared_secret},
    "the public key as a secret": {"sign": public_key_as_secret},
    "changed after signing": {
        "sign": lambda claims: (
            signed(claims, rsa_key("first")).rpartition(".")[0]
            + "."
            + signed(claims | {"sub": "L-9"}, rsa_key("first")).rpartition(".")[2]
        )
    },
    "no token": {"answer": {"id_token": None}},
    "no JSON Web Token": {"answer": {"id_token": "abc"}},
}


class TestForged:
    @pytest.mark.parametrize("how", FORGED)
    def test_nothing_forged_is_believed(
        self, school: School, provider: LockgateProvider, how: str
    ) -> None:
        """A token that is not whole, not for this server, not of this sign-in or not of the
        provider signs nobody in, stores nothing, and is said to be none to trust."""
        for name, value in FORGED[how].items():
            setattr(provider, name, value)
        before = contents(school.store)
        client = school.browser()
        answer = provider.sign_in(client)
        assert answer.status_code == REFUSED
        assert "can&#39;t be trusted" in answer.text
        assert not is_signed_in(client)
        assert contents(school.store) == before

    def test_the_same_token_unchanged_is_believed(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """What the forged ones differ from is right, also with a clock a little behind."""
        provider.change = lambda claims: claims | {"exp": claims["exp"] - 300 - 30}
        assert provider.sign_in(school.browser()).status_code == 303


class TestKeys:
    def test_a_system_that_is_down_is_asked_once_a_minute(self, provider: LockgateProvider) -> None:
        """Tokens with an unknown key have a system that does not answer asked once a minute, and
        what the kept keys signed is believed meanwhile."""
        keys = Keys(Fetcher(NAME, provider.transport), provider.clock)
        address, good = f"{ISSUER}/keys", signed({"sub": "L-1"}, rsa_key("first"))
        keys.verify(good, address)
        provider.is_down = True
        provider.clock.passes(minutes=61)
        for _ in range(3):
            assert keys.verify(good, address)[1] == {"sub": "L-1"}
            with pytest.raises(SignInElsewhereFailed, match="can't be trusted"):
                keys.verify(signed({"sub": "L-1"}, rsa_key("another")), address)
        assert provider.fetched["/keys"] == 2
        provider.clock.passes(minutes=1)
        keys.verify(good, address)
        assert provider.fetched["/keys"] == 3

    def test_a_system_that_never_answered_is_asked_once_a_minute(
        self, provider: LockgateProvider
    ) -> None:
        """Without keys nothing is believed, and the system is asked again after a minute."""
        keys = Keys(Fetcher(NAME, provider.transport), provider.clock)
        address, good = f"{ISSUER}/keys", signed({"sub": "L-1"}, rsa_key("first"))
        provider.is_down = True
        for _ in range(3):
            with pytest.raises(SignInElsewhereFailed, match="doesn't answer"):
                keys.verify(good, address)
        assert provider.fetched["/keys"] == 1
        provider.is_down = False
        provider.clock.passes(minutes=1)
        assert keys.verify(good, address)[1] == {"sub": "L-1"}

    @pytest.mark.parametrize(
        "header",
        [
            {"alg": "RS256", "crit": 5},
            {"alg": "RS256", "crit": ["x"]},
            {"alg": ["RS256"]},
            {"alg": "RS256", "kid": ["first"]},
            {"alg": "RS256", "b64": 3},
            {"kid": "first"},
            [],
        ],
    )
    def test_a_header_that_is_none_is_not_believed(
        self, provider: LockgateProvider, header: object
    ) -> None:
        """A header that is not as RFC 7515, section 4, has it is refused like a wrong signature."""
        keys = Keys(Fetcher(NAME, provider.transport), provider.clock)
        head = base64.urlsafe_b64encode(json.dumps(header).encode()).rstrip(b"=").decode()
        token = f"{head}.{signed({'sub': 'L-1'}, rsa_key('first')).partition('.')[2]}"
        with pytest.raises(SignInElsewhereFailed, match="can't be trusted"):
            keys.verify(token, f"{ISSUER}/keys")


def test_a_sign_in_begun_for_a_course_is_not_the_providers(
    store: Store, library: FakeLibrary, provider: LockgateProvider
) -> None:
    """What a browser began for a learning platform is refused where the provider sends people back,
    and the provider is not asked about the code."""
    systems = SchoolSettings(settings(), (platform_settings(),))
    with ExitStack() as stack:
        school = School(
            store, library, stack, provider.clock, systems=systems, transport=provider.transport
        )
        client = school.browser()
        state = WeirPlatform(provider.clock).begin(client)["state"]
        answer = client.get("/sign-in/school/back", params={"code": "a", "state": state})
        assert answer.status_code == REFUSED
        assert "/token" not in provider.fetched
