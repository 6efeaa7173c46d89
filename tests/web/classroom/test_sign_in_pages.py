"""The pages for signing in and out, and for links."""

from __future__ import annotations

import re
import threading

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from tests.classroom.people import OTHER_WORDS, WORDS
from tests.patience import PATIENCE_S
from tests.web.classroom.school import School, sign_in
from tests.web.helpers import begin, hand_in
from trainer.classroom import NewPerson, Passwords
from trainer.store import Role


class TestSignIn:
    def test_pages_are_for_people_who_are_signed_in(self, school: School) -> None:
        """Whoever is not is led to the page for signing in, and from there back."""
        school.account("wren")
        client = school.browser()
        answer = client.get("/progress?by=week", follow_redirects=False)
        assert answer.status_code == 303
        assert answer.headers["location"] == "/sign-in?then=/progress%3Fby%3Dweek"
        page = client.get(answer.headers["location"]).text
        assert 'name="then" value="/progress?by=week"' in page
        form = {"name": "wren", "password": WORDS, "then": "/progress?by=week"}
        answer = client.post("/sign-in", data=form, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, "/progress?by=week")
        assert client.get("/progress").status_code == 200

    def test_the_pages_say_who_is_signed_in(self, school: School) -> None:
        """The name that others see stands in the header, with a way out; nobody can switch."""
        page = school.signed_in("wren").get("/").text
        assert "Wren H.</a>" in page
        assert 'action="/sign-out"' in page
        assert "/learners" not in page
        assert "/people" not in page

    def test_a_script_is_told(self, school: School) -> None:
        """What is not a page is refused with 401 and words that a person understands."""
        answer = school.browser("application/json").put("/write/x/draft", data={"text": "1"})
        assert answer.status_code == 401
        assert "Sign in again" in answer.json()["error"]

    def test_a_wrong_password_is_told(self, school: School) -> None:
        """The page says so and keeps the name; nobody is signed in."""
        school.account("wren")
        client = school.browser()
        answer = client.post("/sign-in", data={"name": "wren", "password": OTHER_WORDS})
        assert answer.status_code == 422
        assert "don&#39;t belong together" in answer.text
        assert 'name="name" value="wren"' in answer.text
        assert OTHER_WORDS not in answer.text
        assert "set-cookie" not in answer.headers

    def test_too_many_tries_wait(self, school: School) -> None:
        """The page says how long (429, with Retry-After: RFC 6585 and RFC 9110)."""
        school.account("wren")
        client = school.browser()
        wrong = {"name": "wren", "password": OTHER_WORDS}
        for _ in range(5):
            assert client.post("/sign-in", data=wrong).status_code == 422
        answer = client.post("/sign-in", data=wrong)
        assert (answer.status_code, answer.headers["retry-after"]) == (429, "1")
        assert "Wait 1 second" in answer.text

    @pytest.mark.parametrize(
        "place",
        ["https://other.example/", "//other.example", "/\\other.example", "other", "/a\r\nx: y",
         "javascript:alert(1)", "/\t/other.example", "@other.example"],
    )  # fmt: skip
    def test_signing_in_leads_nowhere_else(self, school: School, place: str) -> None:
        """An address of another site is not followed (open redirect)."""
        school.account("wren")
        form = {"name": "wren", "password": WORDS, "then": place}
        answer = school.browser().post("/sign-in", data=form, follow_redirects=False)
        assert answer.headers["location"] == "/"
        client = school.signed_in("wren")
        page = client.get("/sign-in", params={"then": place}, follow_redirects=False)
        assert page.headers["location"] == "/"

    def test_a_new_token_at_every_sign_in(self, school: School) -> None:
        """What a browser sent before is worth nothing afterwards (session fixation)."""
        school.account("wren")
        client = school.browser()
        sign_in(client, "wren")
        before = client.cookies["session"]
        sign_in(client, "wren")
        assert client.cookies["session"] != before
        old = school.browser()
        old.cookies.set("session", before)
        assert old.get("/account", follow_redirects=False).status_code == 303

    def test_signing_out_ends_the_session(self, school: School) -> None:
        """A cookie that somebody copied opens nothing afterwards, and drafts leave the browser."""
        client = school.signed_in("wren")
        copied = client.cookies["session"]
        learner = school.store.learners.get("wren")
        assert learner is not None
        page = client.post("/sign-out")
        assert page.url.path == "/sign-in"
        assert f'data-deleted="{learner.uid}"' in page.text
        assert "session" not in client.cookies
        other = school.browser()
        other.cookies.set("session", copied)
        assert other.get("/", follow_redirects=False).status_code == 303

    def test_a_cookie_made_up_is_nobodys(self, school: School) -> None:
        """A cookie that the server did not sign, or that holds nonsense, signs nobody in."""
        for value in ("", "x", "e30=.x.y", "null", "\x7f"):
            client = school.browser()
            client.cookies.set("session", value)
            assert client.get("/account", follow_redirects=False).status_code == 303

    def test_the_caution_comes_first_for_each_account(self, school: School) -> None:
        """Who is new reads the advice on hearing before the first song."""
        client = school.signed_in("wren")
        learner = school.store.learners.get("wren")
        assert learner is not None
        school.store.learners.delete(learner)
        school.server.accounts.sign_up_by_link(
            school.server.accounts.owner_link(), NewPerson("wren", "Wren H.", WORDS)
        )
        client = school.browser()
        sign_in(client, "wren")
        answer = client.get("/", follow_redirects=False)
        assert answer.headers["location"] == "/hearing"
        assert client.get("/account").status_code == 200
        client.post("/hearing")
        assert client.get("/", follow_redirects=False).status_code == 200


def test_pages_do_not_wait_for_passwords(school: School, monkeypatch: pytest.MonkeyPatch) -> None:
    """While very many sign-ins and codes wait for their hashes, pages are answered."""
    school.account("wren")
    client = school.browser()
    may_go_on = threading.Event()

    def slowly(*_: object) -> bool:
        return may_go_on.wait(PATIENCE_S) and False

    monkeypatch.setattr(Passwords, "matches", slowly)
    statuses: list[int] = []

    def try_it(number: int) -> None:
        form = {"name": f"wren.{number}", "password": WORDS}
        statuses.append(client.post("/sign-in", data=form).status_code)

    # More than there are threads for pages (40, anyio's default).
    threads = [threading.Thread(target=try_it, args=(number,)) for number in range(60)]
    for thread in threads:
        thread.start()
    try:
        assert client.get("/privacy").status_code == 200
        assert statuses == []
    finally:
        may_go_on.set()
        for thread in threads:
            thread.join(PATIENCE_S)
    assert statuses == [422] * 60


class TestCookies:
    def test_over_plain_http(self, school: School) -> None:
        """No script reads the cookies and no other site's form sends them."""
        school.account("wren")
        answer = school.browser().post(
            "/sign-in", data={"name": "wren", "password": WORDS}, follow_redirects=False
        )
        for cookie in answer.headers.get_list("set-cookie"):
            assert re.match(r"(?:session|known)=", cookie)
            for rule in ("httponly", "samesite=lax", "path=/"):
                assert rule in cookie.lower()
            assert "domain" not in cookie.lower()

    def test_over_tls(self, school: School) -> None:
        """Secure, and with the prefix that no other host can set (RFC 6265bis, 4.1.3.2)."""
        secure = School(school.store, school.library, school.open, origin="https://class.example")
        secure.account("wren")
        answer = secure.browser().post(
            "/sign-in", data={"name": "wren", "password": WORDS}, follow_redirects=False
        )
        found = answer.headers.get_list("set-cookie")
        assert sorted(cookie.partition("=")[0] for cookie in found) == [
            "__Host-known", "__Host-session",
        ]  # fmt: skip
        for cookie in found:
            assert "secure" in cookie.lower()
            assert "domain" not in cookie.lower()

    def test_pages_do_not_set_it_again(self, school: School) -> None:
        """The cookie is set when somebody signs in or out, and by no other page."""
        client = school.signed_in("wren")
        for place in ("/", "/account", "/today"):
            assert "set-cookie" not in client.get(place).headers

    def test_a_shared_computer_is_not_known_afterwards(self, school: School) -> None:
        """Where others use the computer no mark is left."""
        school.account("wren")
        client = school.browser()
        sign_in(client, "wren", shared="yes")
        assert "known" not in client.cookies
        assert "session" in client.cookies

    def test_several_people_use_one_browser(self, school: School) -> None:
        """Each leaves a mark, of which the newest five stay; nonsense there is left out."""
        client = school.browser()
        client.cookies.set("known", "nonsense.<script>", domain="testserver.local", path="/")
        for number in range(6):
            name = f"pupil.{number}"
            school.account(name)
            sign_in(client, name)
        marks = client.cookies["known"].split(".")
        assert len(set(marks)) == 5
        assert all(re.fullmatch("[0-9a-f]{64}", mark) for mark in marks)


class TestLinks:
    def test_the_owner_makes_an_account(self, school: School) -> None:
        """The first link leads to an account that is signed in and may look after people."""
        token = school.server.accounts.owner_link()
        client = school.browser()
        assert client.get("/link").status_code == 200
        page = client.post("/link", data={"token": token})
        assert "look after this server" in page.text
        answer = make(client, token)
        assert (answer.status_code, answer.headers["location"]) == (303, "/")
        assert client.get("/people").status_code == 200
        assert make(school.browser(), token).status_code == 422

    def test_what_is_wrong_is_told(self, school: School) -> None:
        """The form comes again with the names; the password has to be typed again."""
        token = school.server.accounts.owner_link()
        answer = make(school.browser(), token, password="short")
        assert answer.status_code == 422
        assert "at least 12" in answer.text
        assert 'value="odell"' in answer.text
        assert "short&" not in answer.text
        assert school.store.accounts.count() == 0

    def test_a_link_that_does_not_work_is_told(self, school: School) -> None:
        """A made-up, old or used link leads to words, whichever form sends it."""
        for place in ("/link", "/link/account", "/link/password"):
            answer = school.browser().post(place, data={"token": "x" * 43, "password": WORDS})
            assert answer.status_code == 422
            assert "doesn&#39;t work any more" in answer.text

    def test_a_password_is_set_by_link(self, school: School) -> None:
        """Whoever has the link chooses a password and is signed in; other browsers are out."""
        elsewhere = school.signed_in("wren")
        account = school.store.accounts.by_sign_in("wren")
        assert account is not None
        token = school.server.accounts.reset_link(account, None)
        client = school.browser()
        assert "Wren H." in client.post("/link", data={"token": token}).text
        form = {"token": token, "password": OTHER_WORDS}
        answer = client.post("/link/password", data=form, follow_redirects=False)
        assert answer.status_code == 303
        assert client.get("/account").status_code == 200
        assert elsewhere.get("/account", follow_redirects=False).status_code == 303
        sign_in(school.browser(), "wren", OTHER_WORDS)

    def test_no_address_holds_a_token(self, school: School) -> None:
        """What a link is worth is handed on behind the #, and sent in a form (ASVS 5.0, 14.2.1)."""
        client = school.signed_in("odell", Role.OWNER)
        page = client.post("/people/invite").text
        assert re.search(r"http://testserver/link#[\w-]{43}<", page)


def make(client: TestClient, token: str, password: str = WORDS) -> Response:
    """Make the account of a link."""
    form = {"token": token, "name": "odell", "shown": "Odell Pruitt", "password": password}
    return client.post("/link/account", data=form, follow_redirects=False)


class TestHome:
    def test_the_class_has_nothing_for_one_desk(self, school: School) -> None:
        """Switching, deleting others and backups of the whole are not there, whatever the role."""
        client = school.signed_in("odell", Role.OWNER)
        assert client.get("/learners").status_code == 404
        for place in ("choose", "add", "backup", "x/delete", "x/export", "x/rename"):
            assert client.post(f"/learners/{place}").status_code == 404

    def test_the_home_cookie_chooses_nobody(self, school: School) -> None:
        """The cookie with which a learner is chosen at home means nothing on a class server."""
        client, other = (
            school.signed_in("wren"),
            school.store.learners.get_or_add("me", school.clock()),
        )
        client.cookies.set("learner", f"me:{other.uid}")
        place = hand_in(client, begin(client, level="1", seed="1"), "1 4 5 1")
        assert client.get(place).status_code == 200
        assert school.store.attempts.count(other) == 0
        nobody = school.browser()
        nobody.cookies.set("learner", f"me:{other.uid}")
        assert nobody.get("/", follow_redirects=False).status_code == 303

    def test_at_home_nobody_signs_in(self, client: TestClient) -> None:
        """The pages of accounts are not there without a class."""
        for place in ("/sign-in", "/account", "/people", "/link", "/privacy"):
            assert client.get(place).status_code == 404
        assert "Sign" not in client.get("/").text
