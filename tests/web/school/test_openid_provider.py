"""A provider that refuses, is down, says wrong things of itself, or changes its keys."""

from __future__ import annotations

import pytest

from tests.web.classroom.school import School
from tests.web.school.provider import (
    ISSUER,
    NAME,
    Claims,
    LockgateProvider,
    query_of,
    rsa_key,
    signed,
)
from tests.web.school.test_openid import REFUSED


class TestProvider:
    def test_a_refusal_is_told(self, school: School, provider: LockgateProvider) -> None:
        """Who stops at the provider, or is not let in there, reads that."""
        client = school.browser()
        state = query_of(provider.visit(client))["state"]
        answer = client.get(f"/sign-in/school/back?error=access_denied&state={state}")
        assert answer.status_code == REFUSED
        assert f"{NAME} didn&#39;t sign you in" in answer.text

    def test_another_error_is_told(self, school: School, provider: LockgateProvider) -> None:
        """What the provider says is for the log, not for the page."""
        client = school.browser()
        state = query_of(provider.visit(client))["state"]
        answer = client.get(f"/sign-in/school/back?error=%3Cserver_error%3E&state={state}")
        assert answer.status_code == REFUSED
        assert "server_error" not in answer.text

    def test_a_provider_that_is_down_is_told(
        self, school: School, provider: LockgateProvider, caplog: pytest.LogCaptureFixture
    ) -> None:
        """Whether it fails before or after somebody was sent there, they read whose fault it is,
        and the server's log says more."""
        provider.is_down = True
        client = school.browser()
        answer = client.get("/sign-in/school")
        assert answer.status_code == REFUSED
        assert f"{NAME} doesn&#39;t answer right now" in answer.text
        assert f"{ISSUER}/.well-known/openid-configuration" in caplog.text
        provider.is_down = False
        back = provider.visit(client)
        provider.is_down = True
        assert "doesn&#39;t answer right now" in client.get(back).text
        assert client.get("/sign-in").status_code == 200

    @pytest.mark.parametrize(
        "metadata",
        [
            {"issuer": "https://login.other.example"},
            {"issuer": f"{ISSUER}/"},
            {"token_endpoint": "http://login.lockgate.example/token"},
            {"jwks_uri": None},
            {"authorization_endpoint": "javascript:alert(1)"},
        ],
    )
    def test_what_it_says_of_itself_is_checked(
        self, school: School, provider: LockgateProvider, metadata: Claims
    ) -> None:
        """The issuer is the one of the settings, letter by letter (Discovery 1.0, section 4.3), and
        all addresses are over TLS."""
        provider.metadata = metadata
        assert school.browser().get("/sign-in/school").status_code == REFUSED

    def test_the_answer_of_another_provider_is_refused(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """An answer that names another issuer, or none where the provider names itself, is refused
        (RFC 9207)."""
        client = school.browser()
        assert (
            client.get(f"{provider.visit(client)}&iss=https://other.example").status_code == REFUSED
        )
        school.clock.passes(hours=2)
        provider.metadata = {"authorization_response_iss_parameter_supported": True}
        assert client.get(provider.visit(client)).status_code == REFUSED
        back = f"{provider.visit(client)}&iss={ISSUER}"
        assert client.get(back, follow_redirects=False).status_code == 303

    def test_a_new_key_is_fetched(self, school: School, provider: LockgateProvider) -> None:
        """When the provider signs with another key, the keys are asked for again; a key that it no
        longer publishes is not believed for more than an hour."""
        assert provider.sign_in(school.browser()).status_code == 303
        school.clock.passes(minutes=2)
        provider.keys = [rsa_key("second")]
        assert provider.sign_in(school.browser()).status_code == 303
        assert provider.fetched["/keys"] == 2
        provider.sign = lambda claims: signed(claims, rsa_key("first"))
        assert provider.sign_in(school.browser()).status_code == REFUSED

    def test_made_up_keys_do_not_make_it_ask_and_ask(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """However many tokens name keys that nobody knows, the keys are asked for once a minute."""
        provider.sign = lambda claims: signed(claims, rsa_key("another"))
        for _ in range(5):
            provider.sign_in(school.browser())
        assert provider.fetched["/keys"] == 1
        assert provider.fetched["/.well-known/openid-configuration"] == 1
        school.clock.passes(minutes=1)
        provider.sign_in(school.browser())
        assert provider.fetched["/keys"] == 2

    def test_keys_for_other_uses_are_ignored(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """A set may hold keys of unknown kinds, keys for encrypting, and shared secrets."""
        provider.other_keys = [
            {"kty": "new", "kid": "first"},
            {"kty": "oct", "k": "AAAA", "kid": "first"},
            rsa_key("another").as_dict(private=False) | {"use": "enc", "kid": "first"},
        ]
        assert provider.sign_in(school.browser()).status_code == 303
        provider.sign = lambda claims: signed(claims, rsa_key("another"), "first")
        assert provider.sign_in(school.browser()).status_code == REFUSED
