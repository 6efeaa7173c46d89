"""Who gets which account, and which role, by the word of a school's system; connecting accounts."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import ExitStack

import pytest
from fastapi.testclient import TestClient

from tests.classroom.people import OTHER_WORDS, WORDS
from tests.web.classroom.school import School
from tests.web.fakes import FakeLibrary
from tests.web.school.platform import ISSUER as COURSES
from tests.web.school.platform import NAME as COURSES_NAME
from tests.web.school.platform import settings as platform_settings
from tests.web.school.provider import ISSUER, NAME, LockgateProvider, settings
from tests.web.school.test_openid import REFUSED, account, is_signed_in
from trainer.store import Role, Store
from trainer.web.school.settings import ClaimRule, SchoolSettings

STAFF = ClaimRule("groups", ("staff",))


class TestRoles:
    def test_a_claim_makes_a_teacher(
        self, make_school: Callable[..., School], provider: LockgateProvider
    ) -> None:
        """Of whom the provider says what the settings name becomes a teacher; others do not."""
        school = make_school(teachers=STAFF)
        provider.sign_in(school.browser())
        assert account(school).role is Role.LEARNER
        provider.person |= {"sub": "T-1", "groups": ["choir", "staff"]}
        provider.sign_in(school.browser())
        assert account(school, "T-1").role is Role.TEACHER

    def test_a_learner_becomes_a_teacher_later(
        self, make_school: Callable[..., School], provider: LockgateProvider
    ) -> None:
        """The claim counts at every sign-in, and the log says on whose word."""
        school = make_school(teachers=STAFF)
        provider.sign_in(school.browser())
        provider.person["groups"] = ["staff"]
        provider.sign_in(school.browser())
        found = account(school)
        assert found.role is Role.TEACHER
        entry = school.store.audit_log.of(f"account {found.uid}")[0]
        assert (entry.what, entry.who) == ("role changed", None)
        assert entry.after == {"role": "teacher", "issuer": ISSUER}

    def test_a_role_is_never_taken_by_a_claim(
        self, make_school: Callable[..., School], provider: LockgateProvider
    ) -> None:
        """An owner stays one, and a teacher without the claim stays a teacher: the owner of the
        server takes a role away."""
        school = make_school(teachers=STAFF)
        for name, role in (("odell", Role.OWNER), ("ada", Role.TEACHER)):
            made = school.account(name, role)
            school.store.identities.add(made, ISSUER, name, school.clock())
            for groups in (["pupils"], ["staff"]):
                provider.person = {"sub": name, "groups": groups}
                provider.sign_in(school.browser())
                assert account(school, name).role is role

    @pytest.mark.parametrize("groups", ["staffroom", ["Staff"], {"staff": True}, True, None])
    def test_a_claim_is_compared_exactly(
        self, make_school: Callable[..., School], provider: LockgateProvider, groups: object
    ) -> None:
        """What is like the claim is not the claim."""
        school = make_school(teachers=STAFF)
        provider.person["groups"] = groups
        provider.sign_in(school.browser())
        assert account(school).role is Role.LEARNER

    def test_without_a_rule_nobody_new_gets_an_account(
        self, make_school: Callable[..., School], provider: LockgateProvider
    ) -> None:
        """Where the settings say nothing of new learners, who has no account is told how to get
        one."""
        school = make_school(learners=None)
        client = school.browser()
        answer = provider.sign_in(client)
        assert answer.status_code == REFUSED
        assert f"{NAME} knows you, but you have no account here yet" in answer.text
        assert school.store.accounts.count() == 0
        assert not is_signed_in(client)

    def test_a_rule_says_who_gets_an_account(
        self, make_school: Callable[..., School], provider: LockgateProvider
    ) -> None:
        """Only of whom the provider says what the rule names."""
        school = make_school(learners=ClaimRule("groups", ("pupils",)))
        provider.person["groups"] = ["guests"]
        assert provider.sign_in(school.browser()).status_code == REFUSED
        provider.person["groups"] = ["pupils"]
        assert provider.sign_in(school.browser()).status_code == 303


class TestConnecting:
    def connect(
        self, client: TestClient, provider: LockgateProvider, password: str = WORDS
    ) -> None:
        """Somebody who is signed in connects their account."""
        page = client.post("/account/school", data={"password": password})
        assert page.status_code == 200, page.text
        address = page.text.partition(f'href="{ISSUER}/authorize')[2].partition('"')[0]
        back = provider.signed_in_at(f"{ISSUER}/authorize{address.replace('&amp;', '&')}")
        answer = client.get(back, follow_redirects=False)
        assert answer.headers["location"] == "/account?told=connected", answer.text

    def test_an_account_is_connected_by_its_person(
        self, make_school: Callable[..., School], provider: LockgateProvider
    ) -> None:
        """Who is signed in and knows the password connects; then both ways lead to the account."""
        school = make_school(learners=None)
        client = school.signed_in("ada", Role.TEACHER)
        self.connect(client, provider)
        assert NAME in client.get("/account").text
        again = school.browser()
        assert provider.sign_in(again).status_code == 303
        assert "ada" in again.get("/account").text
        assert account(school).role is Role.TEACHER
        assert is_signed_in(school.signed_in("ada"))

    def test_the_password_is_asked_for(self, school: School, provider: LockgateProvider) -> None:
        """Whoever finds a browser signed in cannot add a way of their own."""
        client = school.signed_in("wren")
        answer = client.post("/account/school", data={"password": OTHER_WORDS})
        assert answer.status_code == REFUSED
        assert "asked" not in client.cookies

    def test_an_answer_connects_only_the_account_that_asked(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """Who signed in as somebody else meanwhile connects nothing."""
        client = school.signed_in("wren")
        page = client.post("/account/school", data={"password": WORDS}).text
        address = page.partition(f'href="{ISSUER}/authorize')[2].partition('"')[0]
        back = provider.signed_in_at(f"{ISSUER}/authorize{address.replace('&amp;', '&')}")
        client.post("/sign-out")
        school.account("zoe")
        client.post("/sign-in", data={"name": "zoe", "password": WORDS})
        answer = client.get(back)
        assert answer.status_code == REFUSED
        assert school.store.identities.account_of(ISSUER, "L-0017") is None

    def test_an_identity_belongs_to_one_account(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """What is connected with one account is not taken by another."""
        provider.sign_in(school.browser())
        client = school.signed_in("zoe")
        page = client.post("/account/school", data={"password": WORDS}).text
        address = page.partition(f'href="{ISSUER}/authorize')[2].partition('"')[0]
        back = provider.signed_in_at(f"{ISSUER}/authorize{address.replace('&amp;', '&')}")
        answer = client.get(back)
        assert answer.status_code == REFUSED
        assert "Somebody else here signs in as that person" in answer.text
        assert account(school).sign_in == "wren"

    def test_it_is_ended_by_its_person(self, school: School, provider: LockgateProvider) -> None:
        """Disconnected, the way leads to the account no more; the log keeps that it did."""
        client = school.signed_in("ada")
        self.connect(client, provider)
        ada = school.store.accounts.by_sign_in("ada")
        assert ada is not None
        (identity,) = school.store.identities.of(ada)
        client.post(f"/account/school/{identity.id}/end")
        assert school.store.identities.of(ada) == ()
        done = [entry.what for entry in school.store.audit_log.of(f"account {ada.uid}")]
        assert done[:2] == ["school sign-in disconnected", "school sign-in connected"]

    def test_the_only_way_in_is_not_ended(self, school: School, provider: LockgateProvider) -> None:
        """Who has no password is told to get one first."""
        client = school.browser()
        provider.sign_in(client)
        (identity,) = school.store.identities.of(account(school))
        answer = client.post(f"/account/school/{identity.id}/end")
        assert answer.status_code == REFUSED
        assert school.store.identities.of(account(school)) == (identity,)

    def test_an_account_that_is_switched_off_stays_closed(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """The provider's word opens no account that its owner switched off, and makes no second."""
        provider.sign_in(school.browser())
        school.server.accounts.switch_off(account(school), None)
        client = school.browser()
        answer = provider.sign_in(client)
        assert answer.status_code == REFUSED
        assert "switched off" in answer.text
        assert not is_signed_in(client)
        assert school.store.accounts.count() == 1

    def test_a_password_of_this_server_opens_nothing_without_one(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """An account without a password is not signed in to with any."""
        provider.sign_in(school.browser())
        for password in ("", "None", WORDS):
            form = {"name": "wren", "password": password}
            answer = school.browser().post("/sign-in", data=form)
            assert answer.status_code in {REFUSED, 429}

    def test_each_connection_has_the_name_of_its_system(
        self, store: Store, library: FakeLibrary, provider: LockgateProvider
    ) -> None:
        """Connections are called like the provider, or like their platform; one with a system that
        the settings no longer name is called by its address."""
        systems = SchoolSettings(settings(), (platform_settings(),))
        with ExitStack() as stack:
            school = School(
                store, library, stack, provider.clock, systems=systems, transport=provider.transport
            )
            client = school.signed_in("ada")
            ada = store.accounts.by_sign_in("ada")
            assert ada is not None
            for issuer in (ISSUER, COURSES, "https://gone.example"):
                store.identities.add(ada, issuer, "L-1", school.clock())
            page = client.get("/account").text
        for name in (NAME, COURSES_NAME, "https://gone.example"):
            assert page.count(f'aria-label="Disconnect {name}"') == 1


class TestData:
    def test_an_export_says_who_one_is_there(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """What is kept of the school's system is in the export."""
        client = school.browser()
        provider.sign_in(client)
        (found,) = client.post("/account/export").json()["account"]["identities"]
        assert (found["issuer"], found["subject"]) == (ISSUER, "L-0017")

    def test_who_has_no_password_deletes_after_signing_in_again(
        self, school: School, provider: LockgateProvider
    ) -> None:
        """A sign-in of just now stands in for the password; nothing of the person is left, and they
        may come again as somebody new."""
        client = school.browser()
        provider.sign_in(client)
        school.clock.passes(minutes=11)
        answer = client.post("/account/delete")
        assert answer.status_code == REFUSED
        assert "sign in again first" in answer.text
        client.post("/sign-out")
        provider.sign_in(client)
        assert "password" not in client.get("/account/delete").text
        client.post("/account/delete")
        assert school.store.accounts.count() == 0
        assert school.store.identities.account_of(ISSUER, "L-0017") is None
        assert provider.sign_in(client).status_code == 303
