"""Joining a class by its code."""

from __future__ import annotations

from contextlib import ExitStack
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx2 import Response

from tests.classroom.people import OTHER_WORDS, WORDS
from tests.patience import PATIENCE_S
from tests.web.classroom.school import School
from tests.web.fakes import FakeLibrary
from tests.web.helpers import begin, hand_in
from trainer.classroom.audit import subject_of
from trainer.classroom.classes import CODE_LASTS, Classes
from trainer.classroom.tries import FREE_AT_CODES
from trainer.store import Account, Role, Store

WREN = {"name": "wren", "shown": "Wren Halloway", "password": WORDS}


@pytest.fixture
def code(school: School) -> str:
    """The code of a class at the Millrace school."""
    teacher = school.account("nora", Role.TEACHER)
    classes = Classes(school.store, teacher, school.clock)
    found = classes.code_of(classes.make("Ear training", "Spring").uid)
    assert found is not None
    return found.code


def join(client: TestClient, **form: str) -> Response:
    """Send the page's form."""
    return client.post("/join", data=form, follow_redirects=False)


def account_of(school: School, name: str) -> Account:
    """The account of that name."""
    found = school.store.accounts.by_sign_in(name)
    assert found is not None
    return found


def members(school: School) -> list[str]:
    """The sign-in names of all who are in the first class."""
    teacher = school.store.accounts.by_sign_in("nora")
    assert teacher is not None
    classes = Classes(school.store, teacher, school.clock)
    uids = [each.uid for each in classes.members(classes.taught()[0].uid)]
    accounts = [school.store.accounts.by_uid(uid) for uid in uids]
    return sorted(each.sign_in for each in accounts if each is not None)


def test_a_new_learner_joins(school: School, code: str) -> None:
    """A code, names and a password make a learner's account that is in the class and signed in; the
    hearing caution comes first."""
    client = school.browser()
    answer = join(client, code=f" {code.lower()[:5]}-{code[5:]} ", **WREN)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert client.get("/", follow_redirects=False).headers["location"] == "/hearing"
    account = school.store.accounts.by_sign_in("wren")
    assert account is not None
    assert account.role is Role.LEARNER
    assert members(school) == ["nora", "wren"]


def test_somebody_with_an_account_joins(school: School, code: str) -> None:
    """Whoever is signed in gives the code alone, and no second account is made."""
    client = school.signed_in("odell")
    assert 'name="password"' not in client.get("/join").text
    assert join(client, code=code).headers["location"] == "/assigned"
    assert members(school) == ["nora", "odell"]
    assert school.store.accounts.count() == 2
    assert join(client, code=code).status_code == 303


def test_a_wrong_code_makes_nobody(school: School, code: str) -> None:
    """No account is left behind, and what was typed stays but for the password."""
    answer = join(school.browser(), code="NOSUCHCODE", **WREN)
    assert answer.status_code == 422
    assert "doesn&#39;t open a class" in answer.text
    assert 'value="Wren Halloway"' in answer.text
    assert WORDS not in answer.text
    assert school.store.accounts.by_sign_in("wren") is None
    assert school.store.learners.get("wren") is None


def test_an_old_code_opens_nothing(school: School, code: str) -> None:
    """A code that has expired is as good as none."""
    school.clock.now += CODE_LASTS
    assert join(school.browser(), code=code, **WREN).status_code == 422


@pytest.mark.parametrize(
    ("changed", "said"),
    [({"password": "short"}, "at least 12"), ({"name": "nora"}, "already signs in"),
     ({"name": "w h"}, "2 to 60"), ({"shown": ""}, "1 to 80")],
)  # fmt: skip
def test_what_is_wrong_is_told(
    school: School, code: str, changed: dict[str, str], said: str
) -> None:
    """A name that is taken or a password that is refused joins nothing."""
    answer = join(school.browser(), code=code, **(WREN | changed))
    assert answer.status_code == 422
    assert said in answer.text
    assert members(school) == ["nora"]


def test_guessing_codes_is_slowed(school: School, code: str) -> None:
    """A class may mistype its code; after that each try from there waits, and who knows one code
    is not free to guess others."""
    client, other = school.browser(), school.signed_in("odell")
    for number in range(FREE_AT_CODES):
        assert join(client, code=f"WRONG{number}", **WREN).status_code == 422
    assert join(other, code=code).status_code == 429
    school.clock.passes(seconds=1)
    assert join(other, code=code).status_code == 303
    assert join(client, code="WRONG", **WREN).status_code == 422
    assert join(client, code=code, **WREN).status_code == 429


def test_a_teacher_hands_a_learner_a_new_password_link(school: School, code: str) -> None:
    """The link sets the password of a learner of the class, the teacher never sees it, and the log
    says who made it; colleagues, owners and learners of other classes are not theirs to help."""
    join(school.browser(), code=code, **WREN)
    school.account("odell", Role.OWNER)
    join(school.signed_in("odell"), code=code)
    school.account("moss")
    nora = school.signed_in("nora")
    place = school.store.classes.of_account(account_of(school, "nora").id)[0][0].uid

    def ask(name: str) -> Response:
        return nora.post(f"/classes/{place}/members/{account_of(school, name).uid}/password")

    token = ask("wren").text.partition("/link#")[2].partition("<")[0]
    form = {"token": token, "password": OTHER_WORDS}
    answer = school.browser().post("/link/password", data=form, follow_redirects=False)
    assert answer.status_code == 303
    made = school.store.audit_log.of(subject_of(account_of(school, "wren")))[1]
    assert (made.what, made.who) == ("link made", account_of(school, "nora").uid)
    for name in ("odell", "moss", "nora"):
        answer = ask(name)
        assert answer.status_code == 422, name
        assert "/link#" not in answer.text


def test_the_page_says_what_is_kept(school: School) -> None:
    """Before somebody signs up they can read what is kept of them."""
    assert 'href="/privacy"' in school.browser().get("/join").text
    assert "What is kept about you" in school.browser().get("/privacy").text


def test_a_class_on_either_database(location: Path | str, library: FakeLibrary) -> None:
    """From the owner's link to a learner's first result, on SQLite and on PostgreSQL; two server
    processes over one database know the same sessions."""
    with Store(location, wait_s=PATIENCE_S) as store, ExitStack() as stack:
        school = School(store, library, stack)
        other = School(store, library, stack, clock=school.clock)
        owner = school.browser()
        token = school.server.accounts.owner_link()
        form = {"token": token, "name": "odell", "shown": "Odell Pruitt", "password": WORDS}
        assert owner.post("/link/account", data=form, follow_redirects=False).status_code == 303
        page = owner.post("/people/invite").text
        token = page.partition("/link#")[2].partition("<")[0]
        form = {"token": token, "name": "nora", "shown": "Nora Finch", "password": WORDS}
        teacher = other.browser()
        assert teacher.post("/link/account", data=form, follow_redirects=False).status_code == 303
        made = teacher.post("/classes/new", data={"name": "Ear training", "term": "Spring"})
        code = made.text.partition('join-code">')[2].partition("<")[0]
        learner = school.browser()
        assert join(learner, code=code, **WREN).status_code == 303
        for client in (learner, owner):
            client.post("/hearing")
        place = hand_in(learner, begin(learner, level="1", seed="1"), "1 4 5 1")
        elsewhere = other.browser()
        elsewhere.cookies.set("session", learner.cookies["session"])
        assert elsewhere.get(place).status_code == 200
        assert owner.get(place).status_code == 404
        assert "Wren Halloway" in owner.get("/people").text
        learner.post("/sign-out")
        assert elsewhere.get(place, follow_redirects=False).status_code == 303
