"""Signing in by an OpenID provider.

What is asked of a client stands in OpenID Connect Core 1.0, section 3.1.3.7 (ID tokens), RFC 6749
(state, codes), RFC 7636 (PKCE) and RFC 9700 (best current practice).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from fastapi.testclient import TestClient
from joserfc import jwt
from joserfc.jwk import OctKey

from tests.web.classroom.school import School
from tests.web.school.provider import (
    CLIENT,
    ISSUER,
    NAME,
    SECRET,
    Claims,
    LockgateProvider,
    query_of,
    rsa_key,
    signed,
    unsigned,
)
from tests.web.test_reading import contents
from trainer.store import Account

REFUSED = 422


def is_signed_in(client: TestClient) -> bool:
    """Whether a browser is signed in."""
    return client.get("/account", follow_redirects=False).status_code == 200


def account(school: School, subject: str = "L-0017") -> Account:
    """The account of somebody at the provider."""
    found = school.store.identities.account_of(ISSUER, subject)
    assert found is not None
    return found


class TestSigningIn:
    def test_somebody_new_gets_an_account(self, school: School, provider: LockgateProvider) -> None:
        """Whoever the provider signs in gets a learner's account, with what they are called there
        and without a password, and is signed in to it."""
        client = school.browser()
        answer = provider.sign_in(client, "/sign-in/school?then=/history")
        assert (answer.status_code, answer.headers["location"]) == (303, "/history")
        assert is_signed_in(client)
        found = account(school)
        assert (found.sign_in, found.shown_name, found.role) == ("wren", "Wren Halloway", "learner")
        assert found.password_hash is None

    def test_the_account_is_found_again(self, school: School, provider: LockgateProvider) -> None:
        """Issuer and subject say who somebody is, whatever else they are called by then."""
        provider.sign_in(school.browser())
        provider.person |= {
            "name": "W. Marsh",
            "preferred_username": "marsh",
            "email": "m@x.example",
        }
        client = school.browser()
        assert provider.sign_in(client).status_code == 303
        assert school.store.accounts.count() == 1
        assert account(school).shown_name == "Wren Halloway"

    def test_a_name_or_an_address_opens_no_account(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """Somebody with the name and the e-mail address of an account here, but another subject,
        gets an account of their own."""
        school.account("wren")
        provider.sign_in(school.browser())
        provider.person |= {"sub": "L-0018"}
        provider.sign_in(school.browser())
        names = [account(school, subject).sign_in for subject in ("L-0017", "L-0018")]
        assert len({"wren", *names}) == 3
        assert all(name.startswith("wren-") for name in names)

    def test_a_name_that_cannot_be_one_is_replaced(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """What the provider calls somebody need not be a sign-in name, nor be there at all."""
        provider.person = {"sub": "L-1", "preferred_username": "  two words ", "name": ["list"]}
        assert provider.sign_in(school.browser()).status_code == 303
        provider.person = {"sub": "L-2"}
        assert provider.sign_in(school.browser()).status_code == 303
        assert account(school, "L-1").sign_in == "member"
        assert account(school, "L-2").shown_name.startswith("member-")

    def test_the_session_is_an_ordinary_one(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """A sign-in ends what the browser had before, is listed, and ends at sign-out."""
        client = school.browser()
        provider.sign_in(client)
        kept = client.cookies["session"]
        assert [each.client for each in school.server.sessions.of(account(school))]
        client.post("/sign-out")
        assert not is_signed_in(client)
        client.cookies.set("session", kept)
        assert not is_signed_in(client)

    def test_on_a_shared_computer_the_session_is_short(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """Said before being sent to the provider, it holds after coming back."""
        client = school.browser()
        provider.sign_in(client, "/sign-in/school?shared=yes")
        assert is_signed_in(client)
        school.clock.passes(minutes=61)
        assert not is_signed_in(client)

    @pytest.mark.parametrize("then", ["https://other.example/", "//other.example", "/\\other"])
    def test_it_leads_nowhere_else(
        self, school: School, provider: LockgateProvider, then: str
    ) -> None:
        """Where a sign-in leads is a page of this server."""
        answer = provider.sign_in(school.browser(), f"/sign-in/school?then={then}")
        assert answer.headers["location"] == "/"

    def test_being_sent_there_stores_nothing(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """Only what the provider signed changes the record."""
        before = contents(school.store)
        client = school.browser()
        back = provider.visit(client)
        assert contents(school.store) == before
        client.get(back.replace("code=", "code=x"))
        assert contents(school.store) == before

    def test_who_is_signed_in_goes_on(self, school: School, provider: LockgateProvider) -> None:
        """Nobody is sent away who is signed in."""
        client = school.signed_in("wren")
        answer = client.get("/sign-in/school?then=/today", follow_redirects=False)
        assert answer.headers["location"] == "/today"

    def test_the_cookie_is_kept_from_others(
        self, make_school: Callable[..., School], provider: LockgateProvider
    ) -> None:
        """Over TLS no script and no other host gets at what belongs to a sign-in; it is small, and
        goes when it has served."""
        school = make_school(origin="https://class.example")
        client = school.browser()
        sent = client.get("/sign-in/school", follow_redirects=False)
        cookie = sent.headers["set-cookie"]
        assert cookie.startswith("__Host-asked=")
        for part in ("HttpOnly", "SameSite=lax", "Secure", "Path=/", "Max-Age=600"):
            assert part in cookie
        assert len(cookie) < 1000
        back = provider.signed_in_at(sent.headers["location"])
        assert back.startswith("https://class.example/sign-in/school/back?")
        client.get(back)
        assert "__Host-asked" not in client.cookies

    def test_without_a_provider_there_is_none(self, make_school: Callable[..., School]) -> None:
        """A server without the setting has neither the button nor the addresses."""
        school = make_school()
        assert NAME in school.browser().get("/sign-in").text
        plain = School(school.store, school.library, school.open)
        client = plain.browser()
        assert NAME not in client.get("/sign-in").text
        assert client.get("/sign-in/school").status_code == 404
        assert client.get("/sign-in/school/back?code=1&state=1").status_code == 404


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


class TestStates:
    def test_a_state_that_was_made_up_is_refused(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """An answer has to belong to what this browser asked for."""
        client = school.browser()
        back = provider.visit(client)
        state = query_of(back)["state"]
        answer = client.get(back.replace(state, "0" * 64))
        assert answer.status_code == REFUSED
        assert "began in another window" in answer.text
        assert not is_signed_in(client)

    def test_another_browsers_answer_is_refused(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """Nobody is signed in as somebody else by following their link back (RFC 6749, 10.12)."""
        attackers, victims = school.browser(), school.browser()
        back = provider.visit(attackers)
        assert victims.get(back).status_code == REFUSED
        provider.visit(victims)
        assert victims.get(back).status_code == REFUSED
        assert not is_signed_in(victims)

    def test_a_code_for_another_browsers_state_is_refused(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """A code put into one's own answer is not exchanged: it was asked for with another PKCE
        challenge, and its token would have another nonce."""
        thief, victim = school.browser(), school.browser()
        stolen = query_of(provider.visit(victim))["code"]
        own = provider.visit(thief)
        answer = thief.get(own.replace(query_of(own)["code"], stolen))
        assert answer.status_code == REFUSED
        assert not is_signed_in(thief)

    def test_an_answer_works_once(self, school: School, provider: LockgateProvider) -> None:
        """The same address again signs nobody in, nor does it with the cookie kept: the provider
        refuses the code, and the server the state, even with a new code."""
        client = school.browser()
        back = provider.visit(client)
        kept = client.cookies["asked"]
        asked = provider._codes[query_of(back)["code"]]
        assert client.get(back, follow_redirects=False).status_code == 303
        client.cookies.delete("session")
        assert client.get(back).status_code == REFUSED
        client.cookies.set("asked", kept)
        assert "can&#39;t be trusted" in client.get(back).text
        provider._codes["another"] = asked
        client.cookies.set("asked", kept)
        answer = client.get(back.replace(query_of(back)["code"], "another"))
        assert answer.status_code == REFUSED
        assert "used already" in answer.text
        assert not is_signed_in(client)

    def test_an_answer_that_comes_late_is_refused(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """A sign-in has ten minutes."""
        client = school.browser()
        back = provider.visit(client)
        school.clock.passes(minutes=10, seconds=1)
        answer = client.get(back)
        assert answer.status_code == REFUSED
        assert "took too long" in answer.text

    def test_a_cookie_that_was_changed_is_refused(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """What stands in the cookie is the server's word, or nothing."""
        client = school.browser()
        back = provider.visit(client)
        kept = client.cookies["asked"]
        other_letter = "A" if kept[9] != "A" else "B"
        for changed in ("", "x", kept[:9] + other_letter + kept[10:], kept[1:], kept[:-9]):
            client.cookies.clear()
            client.cookies.set("asked", changed)
            assert client.get(back).status_code == REFUSED


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
