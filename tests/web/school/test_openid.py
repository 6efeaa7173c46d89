"""Signing in by an OpenID provider.

What is asked of a client stands in OpenID Connect Core 1.0, section 3.1.3.7 (ID tokens), RFC 6749
(state, codes), RFC 7636 (PKCE) and RFC 9700 (best current practice).
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient

from tests.web.classroom.school import School
from tests.web.school.provider import (
    ISSUER,
    NAME,
    LockgateProvider,
    query_of,
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
