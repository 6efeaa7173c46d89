"""Signing in and out, sessions, and how an attacker is slowed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy import select

from tests.classroom.people import CHEAP, HOME, OTHER_WORDS, WORDS, School
from trainer.classroom import Browser, HashCost, NewSession, Passwords
from trainer.classroom.tries import FREE_AT_NAME, FREE_FROM_SOURCE, LONGEST_WAIT_S, source_of
from trainer.errors import PasswordRefused, SignInRefused, StoreLocked, TooManyTries
from trainer.store.class_tables import sessions as session_rows
from trainer.store.class_tables import sign_in_failures
from trainer.store.sessions import Sessions as StoredSessions

ELSEWHERE = Browser("198.51.100.9", "Safari on an iPad")


def sign_in(school: School, browser: Browser = HOME, name: str = "wren") -> NewSession:
    """Sign in with the right password."""
    return school.sessions.sign_in(name, WORDS, browser)


def fail(school: School, times: int, browser: Browser = HOME, name: str = "wren") -> None:
    """Fail that often, each time as soon as it may be tried."""
    failed = 0
    while failed < times:
        try:
            school.sessions.sign_in(name, OTHER_WORDS, browser)
        except SignInRefused:
            failed += 1
        except TooManyTries as error:
            school.clock.passes(seconds=error.wait_s)


class TestSessions:
    def test_a_token_says_who_it_is(self, school: School) -> None:
        """Name and password, however written, begin a session that its token leads to."""
        account = school.sign_up("wren.halloway")
        new = school.sessions.sign_in(" WREN.Halloway ", WORDS, HOME)
        found = school.sessions.find(new.token)
        assert found is not None
        assert (found.account, found.learner.name) == (account, "wren.halloway")
        assert found.session.client == "Firefox on Linux"
        assert school.sessions.find(new.token + "x") is None
        assert school.sessions.find("") is None

    @pytest.mark.parametrize(
        ("name", "password"),
        [("wren", OTHER_WORDS), ("odell", WORDS), ("", WORDS), ("w r e n", ""), ("wren", "")],
    )
    def test_a_wrong_pair_is_refused_alike(
        self, small_school: School, name: str, password: str
    ) -> None:
        """Whether there is such a name is not told (OWASP ASVS 5.0, 6.3.8)."""
        small_school.sign_up()
        with pytest.raises(SignInRefused, match="don't belong together"):
            small_school.sessions.sign_in(name, password, HOME)

    def test_an_unknown_name_costs_as_much(
        self, small_school: School, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """A password is compared with a hash of the same costs even if there is no such account."""
        import argon2

        verified: list[str] = []
        verify = argon2.PasswordHasher.verify

        def watched(self: argon2.PasswordHasher, kept: str, password: bytes) -> bool:
            verified.append(kept)
            return verify(self, kept, password)

        monkeypatch.setattr(argon2.PasswordHasher, "verify", watched)
        small_school.sign_up()
        for name in ("wren", "odell"):
            with pytest.raises(SignInRefused):
                small_school.sessions.sign_in(name, OTHER_WORDS, HOME)
        costs = [argon2.extract_parameters(kept) for kept in verified]
        assert len(costs) == 2
        assert costs[0] == costs[1]

    def test_only_digests_are_stored(self, school: School) -> None:
        """No token stands in the store; every sign-in has another one, of 256 bits."""
        school.sign_up()
        tokens = {sign_in(school).token for _ in range(3)}
        assert len(tokens) == 3
        # Base64 without padding: 43 characters hold 256 bits.
        assert {len(token) for token in tokens} == {43}
        with school.store._database.reading() as connection:
            rows = connection.execute(select(session_rows)).all()
        assert not [row for row in rows for token in tokens if token in str(row)]

    def test_a_session_that_is_not_used_ends(self, school: School) -> None:
        """14 days without use end it; use in between keeps it, but no longer than 30 days."""
        school.sign_up()
        token = sign_in(school).token
        for _ in range(2):
            school.clock.passes(days=13)
            assert school.sessions.find(token) is not None
        school.clock.passes(days=3, hours=23)
        assert school.sessions.find(token) is not None
        school.clock.passes(hours=1)
        assert school.sessions.find(token) is None
        other = sign_in(school).token
        school.clock.passes(days=14, seconds=1)
        assert school.sessions.find(other) is None

    def test_a_shared_computer_forgets_soon(self, school: School) -> None:
        """An hour without use, or 12 hours in all; and no mark stays in the browser."""
        school.sign_up()
        new = sign_in(school, replace(HOME, is_shared=True))
        assert new.mark == ""
        for _ in range(12):
            assert school.sessions.find(new.token) is not None
            school.clock.passes(minutes=59)
        assert school.sessions.find(new.token) is not None
        school.clock.passes(minutes=12)
        assert school.sessions.find(new.token) is None
        idle = sign_in(school, replace(HOME, is_shared=True)).token
        school.clock.passes(minutes=61)
        assert school.sessions.find(idle) is None

    def test_use_is_stored_seldom(self, small_school: School) -> None:
        """Pages that follow each other do not write each time."""
        small_school.sign_up()
        token = sign_in(small_school).token
        began = small_school.clock()
        seen = []
        for _ in range(7):
            found = small_school.sessions.find(token)
            assert found is not None
            seen.append(found.session.seen_at - began)
            small_school.clock.passes(minutes=1)
        assert seen == [timedelta(0)] * 6 + [timedelta(minutes=5)]

    def test_a_busy_store_signs_nobody_out(
        self, small_school: School, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """While another program writes for long, a session is found without being noted."""
        small_school.sign_up()
        token = sign_in(small_school).token
        small_school.clock.passes(minutes=6)

        def is_locked(*_: object) -> None:
            raise StoreLocked("another program writes")

        with monkeypatch.context() as patch:
            patch.setattr(StoredSessions, "seen", is_locked)
            assert small_school.sessions.find(token) is not None
        found = small_school.sessions.find(token)
        assert found is not None
        assert found.session.seen_at == small_school.clock() - timedelta(minutes=6)

    def test_signing_out_ends_one_or_all(self, school: School) -> None:
        """One session ends alone; "everywhere" ends them all, and only one's own."""
        account, other = school.sign_up(), school.sign_up("odell")
        here, there = sign_in(school), sign_in(school, ELSEWHERE)
        others = sign_in(school, name="odell")
        mine = school.sessions.of(account)
        assert [each.client for each in mine] == ["Safari on an iPad", "Firefox on Linux"]
        assert not school.sessions.end(other, mine[0].id)
        assert school.sessions.end(account, mine[0].id)
        assert school.sessions.find(there.token) is None
        assert school.sessions.find(here.token) is not None
        school.sessions.end_all(account)
        assert school.sessions.find(here.token) is None
        assert school.sessions.find(others.token) is not None

    def test_a_token_is_signed_out(self, school: School) -> None:
        """The session of a token ends, and no other; an unknown token ends nothing."""
        school.sign_up()
        here, there = sign_in(school), sign_in(school, ELSEWHERE)
        for token in ("", "unknown", here.token, here.token):
            school.sessions.sign_out(token)
        assert school.sessions.find(here.token) is None
        assert school.sessions.find(there.token) is not None

    def test_who_is_switched_off_is_out_at_once(self, school: School) -> None:
        """Sessions end and the password no longer lets them in, until they are switched on."""
        account = school.sign_up()
        token = sign_in(school).token
        school.accounts.switch_off(account, None)
        assert school.sessions.find(token) is None
        with pytest.raises(SignInRefused):
            sign_in(school)
        school.accounts.switch_on(account, None)
        assert school.sessions.find(sign_in(school).token) is not None

    def test_a_clock_that_goes_back_signs_nobody_out(self, small_school: School) -> None:
        """A session seen in what is now the future stays."""
        small_school.sign_up()
        token = sign_in(small_school).token
        small_school.clock.passes(days=-2)
        assert small_school.sessions.find(token) is not None


class TestPasswordChange:
    def test_a_new_password_ends_all_sessions(self, school: School) -> None:
        """Every browser has to sign in again; the one that asked is given a new session."""
        account = school.sign_up()
        here, there = sign_in(school), sign_in(school, ELSEWHERE)
        new = school.sessions.change_password(account, WORDS, OTHER_WORDS, HOME)
        assert school.sessions.find(here.token) is None
        assert school.sessions.find(there.token) is None
        assert school.sessions.find(new.token) is not None
        with pytest.raises(SignInRefused):
            sign_in(school)
        assert school.sessions.sign_in("wren", OTHER_WORDS, HOME).token

    def test_the_present_password_is_asked_for(self, school: School) -> None:
        """Who only found a browser signed in cannot set another password."""
        account = school.sign_up()
        with pytest.raises(SignInRefused):
            school.sessions.change_password(account, OTHER_WORDS, "five dry stone walls", HOME)
        with pytest.raises(PasswordRefused):
            school.sessions.change_password(account, WORDS, "wren.h 12345", HOME)
        assert sign_in(school).token

    def test_a_hash_of_old_costs_is_made_again(self, school: School) -> None:
        """At the next sign-in the password gets a hash of the present costs."""
        account = school.sign_up()
        dearer = HashCost(memory_kib=16, passes=1, lanes=1)
        school.passwords = Passwords(dearer)
        sign_in(school)
        kept = school.again(account).password_hash
        assert kept is not None
        assert kept != account.password_hash
        assert not school.passwords.is_outdated(kept)
        assert Passwords(CHEAP).is_outdated(kept)


class TestTries:
    def test_the_first_tries_are_free_then_each_waits(self, school: School) -> None:
        """After five failures the next tries wait 1, 2, 4... seconds, at most a minute."""
        school.sign_up()
        fail(school, FREE_AT_NAME)
        waits = []
        for _ in range(9):
            with pytest.raises(TooManyTries) as caught:
                sign_in(school)
            waits.append(caught.value.wait_s)
            school.clock.passes(seconds=caught.value.wait_s)
            fail(school, 1)
        assert waits == [1, 2, 4, 8, 16, 32, LONGEST_WAIT_S, LONGEST_WAIT_S, LONGEST_WAIT_S]
        school.clock.passes(seconds=LONGEST_WAIT_S)
        assert sign_in(school).token

    def test_waiting_is_not_made_longer_by_asking(self, small_school: School) -> None:
        """A try that has to wait does not count as a failure."""
        small_school.sign_up()
        fail(small_school, FREE_AT_NAME)
        for _ in range(50):
            with pytest.raises(TooManyTries, match="Wait 1 second,"):
                sign_in(small_school)
        small_school.clock.passes(seconds=1)
        assert sign_in(small_school).token

    def test_an_attacker_makes_few_tries_an_hour(self, small_school: School) -> None:
        """From one address at one name fewer than 100 passwords are looked at in an hour, which is
        the figure of OWASP ASVS 4.0.3, 2.2.1."""
        small_school.sign_up()
        until = small_school.clock() + timedelta(hours=1)
        looked_at = 0
        while small_school.clock() < until:
            try:
                small_school.sessions.sign_in("wren", OTHER_WORDS, HOME)
            except SignInRefused:
                looked_at += 1
            except TooManyTries as error:
                small_school.clock.passes(seconds=error.wait_s)
        assert looked_at < 100

    def test_the_victim_signs_in_from_elsewhere(self, school: School) -> None:
        """However often somebody fails at an account, its owner elsewhere does not wait."""
        school.sign_up()
        fail(school, 30)
        assert sign_in(school, ELSEWHERE).token

    def test_the_victim_signs_in_beside_the_attacker(self, school: School) -> None:
        """In the same school, from the same address, a browser that signed in before goes on."""
        school.sign_up()
        known = replace(HOME, marks=(sign_in(school).mark,))
        fail(school, 30)
        with pytest.raises(TooManyTries):
            sign_in(school)
        assert sign_in(school, known).token

    def test_a_mark_opens_nothing(self, school: School) -> None:
        """With a stolen mark one has a few free tries and then waits, too; a mark of another
        account or an older password is worth nothing."""
        account = school.sign_up()
        school.sign_up("odell")
        mark = sign_in(school).mark
        known = replace(ELSEWHERE, marks=(mark,))
        fail(school, FREE_AT_NAME, known)
        with pytest.raises(TooManyTries):
            sign_in(school, known)
        fail(school, FREE_AT_NAME)
        others = replace(HOME, marks=(sign_in(school, name="odell").mark,))
        with pytest.raises(TooManyTries):
            sign_in(school, others)
        school.clock.passes(seconds=1)
        school.sessions.change_password(account, WORDS, OTHER_WORDS, ELSEWHERE)
        assert school.sessions.sign_in("wren", OTHER_WORDS, HOME).mark != mark

    def test_an_address_that_tries_many_names_waits(self, school: School) -> None:
        """Guessing a few times at every name of a school is slowed, too."""
        school.sign_up()
        for number in range(FREE_FROM_SOURCE):
            fail(school, 1, name=f"pupil.{number}")
        with pytest.raises(TooManyTries):
            sign_in(school)
        assert sign_in(school, ELSEWHERE).token

    def test_success_forgets_failures_at_this_name(self, small_school: School) -> None:
        """Who finally types it right starts with free tries again."""
        small_school.sign_up()
        fail(small_school, FREE_AT_NAME - 1)
        sign_in(small_school)
        fail(small_school, FREE_AT_NAME - 1)
        assert sign_in(small_school).token

    def test_tries_at_the_same_moment_count_each_other(self, small_school: School) -> None:
        """A try is stored before the password is looked at, so a flood of them is no way round."""
        small_school.sign_up()
        tries = small_school.sessions._tries
        begun = 0
        for _ in range(40):
            try:
                tries.begin("wren", "address 192.0.2.7", small_school.clock())
                begun += 1
            except TooManyTries:
                continue
        assert begun == FREE_AT_NAME

    def test_what_is_kept_of_a_try(self, school: School) -> None:
        """Not the name, which may be a password typed in the wrong field; and for an hour only."""
        school.sign_up()
        fail(school, 1, name="my secret passphrase")
        query = select(sign_in_failures)
        with school.store._database.reading() as connection:
            (row,) = connection.execute(query).all()
        assert "secret" not in str(row)
        school.clock.passes(hours=1, seconds=1)
        sign_in(school)
        with school.store._database.reading() as connection:
            assert connection.execute(query).all() == []


@pytest.mark.parametrize(
    ("one", "other", "is_same"),
    [
        ("192.0.2.7", "192.0.2.8", False),
        ("192.0.2.7", "::ffff:192.0.2.7", True),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::1", True),
        ("2001:db8:1:2::1", "2001:db8:1:3::1", False),
        ("testclient", "unix", True),
    ],
)
def test_where_tries_come_from(one: str, other: str, is_same: bool) -> None:
    """An IPv4 address is one source, an IPv6 network of 64 bits is one (RFC 4291, 2.5.4)."""
    assert (source_of(one) == source_of(other)) is is_same
