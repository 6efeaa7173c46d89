"""One's own account, and the owner's page of everybody's."""

from __future__ import annotations

import json
import re

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from tests.classroom.people import OTHER_WORDS, WORDS
from tests.web.classroom.lockside import Lockside, said
from tests.web.classroom.school import School, sign_in
from tests.web.helpers import begin, hand_in
from trainer.classroom.audit import subject_of
from trainer.store import Account, Role


def post(client: TestClient, place: str, **form: str) -> Response:
    """Send a form; the answer itself, which may lead on."""
    return client.post(place, data=form, follow_redirects=False)


def account_of(school: School, name: str) -> Account:
    """The account of that name."""
    found = school.store.accounts.by_sign_in(name)
    assert found is not None
    return found


class TestOwnAccount:
    def test_another_name_is_shown(self, school: School) -> None:
        """The new name stands on every page; the name to sign in with stays."""
        client = school.signed_in("wren")
        page = client.post("/account/name", data={"name": "Wren <b>Halloway</b>"})
        assert "Your name is changed." in page.text
        assert "Wren &lt;b&gt;Halloway&lt;/b&gt;</a>" in client.get("/today").text
        assert account_of(school, "wren").shown_name == "Wren <b>Halloway</b>"
        assert post(client, "/account/name", name=" ").status_code == 422

    def test_a_password_is_changed(self, school: School) -> None:
        """This browser stays signed in with a new token, every other one is out."""
        client, other = school.signed_in("wren"), school.signed_in("wren")
        before = client.cookies["session"]
        answer = post(client, "/account/password", password=WORDS, new=OTHER_WORDS)
        assert answer.headers["location"] == "/account?told=password"
        assert client.cookies["session"] != before
        assert "Every other browser is signed out" in client.get("/account?told=password").text
        assert other.get("/account", follow_redirects=False).status_code == 303
        sign_in(school.browser(), "wren", OTHER_WORDS)

    @pytest.mark.parametrize(
        ("password", "new", "said"),
        [(OTHER_WORDS, "five dry stone walls", "don&#39;t belong together"),
         (WORDS, "short", "at least 12"), (WORDS, "wren 12345678", "easy to guess")],
    )  # fmt: skip
    def test_a_refused_password_changes_nothing(
        self, school: School, password: str, new: str, said: str
    ) -> None:
        """The page says why, and neither password stands on it."""
        client = school.signed_in("wren")
        answer = post(client, "/account/password", password=password, new=new)
        assert answer.status_code == 422
        assert said in answer.text
        assert password not in answer.text
        assert f'"{new}"' not in answer.text
        sign_in(school.browser(), "wren")

    def test_guessing_the_present_password_is_slowed(self, school: School) -> None:
        """Somebody at a browser that was left signed in does not try passwords without end."""
        client = school.signed_in("wren")
        for _ in range(5):
            answer = post(client, "/account/password", password=OTHER_WORDS, new="x" * 20)
            assert answer.status_code == 422
        answer = post(client, "/account/delete", password=OTHER_WORDS)
        assert (answer.status_code, answer.headers["retry-after"]) == (429, "1")

    def test_browsers_are_listed_and_signed_out(self, school: School) -> None:
        """The page names each browser and since when; another one is signed out from here."""
        client, other = school.signed_in("wren"), school.browser()
        agent = "Mozilla/5.0 (iPad; CPU OS 17_0 like Mac OS X) AppleWebKit/605 Safari/604"
        other.headers["user-agent"] = agent
        sign_in(other, "wren")
        page = client.get("/account").text
        assert "Safari on an iPad" in page
        assert page.count("✓ this one") == 1
        (place,) = re.findall(r'action="(/account/sessions/\d+/end)"', page)
        assert post(client, place).status_code == 303
        assert other.get("/account", follow_redirects=False).status_code == 303
        assert client.get("/account").status_code == 200
        assert post(client, place).status_code == 404

    def test_signing_out_everywhere(self, school: School) -> None:
        """Every browser is out, this one too."""
        client, other = school.signed_in("wren"), school.signed_in("wren")
        post(client, "/account/sign-out-everywhere")
        for each in (client, other):
            assert each.get("/account", follow_redirects=False).status_code == 303

    def test_a_home_record_comes_along(self, school: School) -> None:
        """What was exported at home, or from another account, is added to one's own record; twice
        adds nothing."""
        home = school.signed_in("odell")
        hand_in(home, begin(home, level="1", seed="1"), "1 4 5 1")
        exported = home.post("/account/export").content
        client = school.signed_in("wren")
        for told in ("1 exercise added", "0 exercises added, 1 already here"):
            page = client.post("/account/import", files={"record": ("me.json", exported)})
            assert told in page.text
        learner = school.store.learners.get("wren")
        assert learner is not None
        assert school.store.attempts.count(learner) == 1
        assert len(school.store.learners.all()) == 2

    @pytest.mark.parametrize("content", [b"", b"\xff", b"[1]", b"{}", b"[" * 100_000, b"nonsense"])
    def test_what_is_no_record_is_told(self, school: School, content: bytes) -> None:
        """Another file adds nothing, and the page says so."""
        client = school.signed_in("wren")
        answer = client.post("/account/import", files={"record": ("me.json", content)})
        assert answer.status_code == 422
        assert 'role="alert"' in answer.text

    def test_an_export_has_everything_but_what_opens_it(self, school: School) -> None:
        """Name, role and browsers are in the file, and neither password nor tokens."""
        client = school.signed_in("wren")
        found = client.post("/account/export").json()
        assert found["account"]["sign_in"] == "wren"
        assert found["account"]["role"] == "learner"
        assert len(found["account"]["sessions"]) == 1
        account = account_of(school, "wren")
        text = json.dumps(found)
        assert "argon2" not in text
        assert str(account.password_hash) not in text
        assert client.cookies["session"] not in text

    def test_an_account_is_deleted_after_asking(self, school: School) -> None:
        """The password is asked for; then record and account are gone, and drafts leave the
        browser."""
        client = school.signed_in("wren")
        hand_in(client, begin(client, level="1", seed="1"), "1 4 5 1")
        learner = school.store.learners.get("wren")
        assert learner is not None
        assert "1 exercise and every bar" in client.get("/account/delete").text
        assert post(client, "/account/delete", password=OTHER_WORDS).status_code == 422
        page = client.post("/account/delete", data={"password": WORDS})
        assert f'data-deleted="{learner.uid}"' in page.text
        assert school.store.learners.get("wren") is None
        assert school.store.accounts.count() == 0
        again = school.browser()
        form = {"name": "wren", "password": WORDS}
        assert again.post("/sign-in", data=form).status_code == 422

    def test_the_last_owner_stays(self, school: School) -> None:
        """The only owner is told to make another one first."""
        client = school.signed_in("odell", Role.OWNER)
        answer = post(client, "/account/delete", password=WORDS)
        assert answer.status_code == 422
        assert "only owner" in answer.text
        assert client.get("/account").status_code == 200


class TestPeople:
    def test_an_invited_teacher_makes_an_account(self, school: School) -> None:
        """The owner's link makes a teacher, once."""
        page = school.signed_in("odell", Role.OWNER).post("/people/invite").text
        token = page.partition("/link#")[2].partition("<")[0]
        form = {"token": token, "name": "nora", "shown": "Nora Finch", "password": WORDS}
        client = school.browser()
        assert post(client, "/link/account", **form).status_code == 303
        assert account_of(school, "nora").role is Role.TEACHER
        assert client.get("/people").status_code == 403
        assert post(school.browser(), "/link/account", **form).status_code == 422

    def test_a_new_password_by_link(self, school: School) -> None:
        """The owner hands a link on and never sees a password."""
        school.account("wren")
        client = school.signed_in("odell", Role.OWNER)
        page = client.post(f"/people/{account_of(school, 'wren').uid}/reset").text
        token = page.partition("/link#")[2].partition("<")[0]
        answer = post(school.browser(), "/link/password", token=token, password=OTHER_WORDS)
        assert answer.status_code == 303
        sign_in(school.browser(), "wren", OTHER_WORDS)

    def test_roles_and_switches(self, school: School) -> None:
        """A role changes at once; who is switched off is out and comes back when switched on."""
        wren, client = school.signed_in("wren"), school.signed_in("odell", Role.OWNER)
        place = f"/people/{account_of(school, 'wren').uid}"
        assert post(client, f"{place}/role", role="owner").status_code == 303
        assert wren.get("/people").status_code == 200
        assert post(client, f"{place}/role", role="king").status_code == 422
        post(client, f"{place}/role", role="learner")
        assert post(client, f"{place}/off").status_code == 303
        assert "switched off" in client.get("/people").text
        assert wren.get("/", follow_redirects=False).status_code == 303
        assert client.post(f"{place}/reset").status_code == 422
        assert post(client, f"{place}/on").status_code == 303
        sign_in(school.browser(), "wren")

    @pytest.mark.parametrize("change", ["off", "delete", "role"])
    def test_an_owner_stays(self, school: School, change: str) -> None:
        """The only owner neither goes nor steps down, and is told why."""
        client = school.signed_in("odell", Role.OWNER)
        place = f"/people/{account_of(school, 'odell').uid}/{change}"
        answer = client.post(place, data={"role": "learner"})
        assert answer.status_code == 422
        assert "only owner" in answer.text
        assert account_of(school, "odell").role is Role.OWNER

    def test_deleting_asks_first(self, school: School) -> None:
        """The page names what goes; then it is gone."""
        wren, client = school.signed_in("wren"), school.signed_in("odell", Role.OWNER)
        hand_in(wren, begin(wren, level="1", seed="1"), "1 4 5 1")
        place = f"/people/{account_of(school, 'wren').uid}/delete"
        assert "1 exercise and every bar" in client.get(place).text
        assert post(client, place).status_code == 303
        assert school.store.accounts.by_sign_in("wren") is None
        assert client.get(place).status_code == 404

    def test_the_log_says_who_did_what(self, school: School) -> None:
        """Names stand in it as long as the people are there, newest entries first, in pages."""
        client = school.signed_in("odell", Role.OWNER)
        wren = school.account("wren")
        post(client, f"/people/{wren.uid}/role", role="teacher")
        page = client.get("/people/log").text
        assert "role: learner → teacher" in page
        assert page.index("role changed") < page.index("account made")
        rows = re.findall(r"<tr><td.*?</tr>", page)
        assert [re.findall(r"<td>(.*?)</td>", row)[0] for row in rows[:2]] == [
            "Odell H.",
            "Wren H.",
        ]
        assert "a deleted account" not in page
        post(client, f"/people/{wren.uid}/delete")
        page = client.get("/people/log").text
        assert "Wren H." not in page
        assert "a deleted account" in page
        odell = account_of(school, "odell")
        for number in range(110):
            school.store.audit_log.add(
                f"note {number}", subject_of(odell), at=school.clock(), who=odell.uid
            )
        first = client.get("/people/log").text
        (older,) = re.findall(r"/people/log\?before=\d+", first)
        assert "note 109" in first
        assert "account made" not in first
        assert "account made" in client.get(older).text

    def test_the_log_speaks_of_classes_in_words(self, school: School) -> None:
        """An assignment stands in it by its title, with moments and shares as people read them."""
        lockside = Lockside(school)
        lockside.assign(late_until="", pass_mark="75")
        page = said(school.signed_in("odell", Role.OWNER), "/people/log")
        assert "Lock-side band" in page
        assert "assignment made Week 3" in page
        assert "mark to pass: 75%" in page
        assert "None" not in page


def test_errors_say_who_is_signed_in(school: School) -> None:
    """A page that is not there still has the way back and the way out."""
    assert 'action="/sign-out"' in school.signed_in("wren").get("/nowhere").text
    page = school.browser().get("/nowhere").text
    assert 'action="/sign-out"' not in page
    assert 'href="/sign-in"' in page
