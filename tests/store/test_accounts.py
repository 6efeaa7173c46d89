"""Accounts, sessions, links and the log of changes, as they are kept."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import select

from tests.store.samples import NOW, check_store
from trainer.errors import SignInTaken
from trainer.store import (
    Account,
    Learner,
    NewAccount,
    NewVersion,
    Repositories,
    Role,
    Session,
    Store,
)
from trainer.store.class_tables import account_links, sessions

LATER = NOW + timedelta(hours=1)
WREN = NewAccount("wren", "Wren Halloway", Role.LEARNER, "hash one")


@pytest.fixture
def account(fresh_store: Store, learner: Learner) -> Account:
    """The learner's account."""
    return fresh_store.accounts.add(learner, WREN, NOW)


def begin_session(store: Store, account: Account, digest: str = "a" * 64) -> Session:
    """A session of an hour."""
    how: dict[str, Any] = {"at": NOW, "expires_at": LATER}
    return store.sessions.add(account, digest, **how, idle_s=600, client="Firefox on Linux")


class TestAccounts:
    def test_an_account_is_found_by_all_its_names(
        self, fresh_store: Store, learner: Learner, account: Account
    ) -> None:
        """Sign-in name, lasting id, number and learner lead to the same account."""
        accounts = fresh_store.accounts
        assert accounts.by_sign_in("wren") == account
        assert accounts.by_uid(account.uid) == account
        assert accounts.by_id(account.id) == account
        assert accounts.of_learner(learner) == account
        assert (accounts.all(), accounts.count()) == ((account,), 1)
        assert (account.role, account.password_at) == (Role.LEARNER, NOW)

    def test_a_sign_in_name_is_taken_once(
        self, fresh_store: Store, learner: Learner, account: Account
    ) -> None:
        """Neither another learner with the same name nor a second account of one is stored."""
        other = fresh_store.learners.add("Odell Pruitt", NOW)
        for who, name in ((other, "wren"), (learner, "wren.h")):
            with pytest.raises(SignInTaken, match=name):
                fresh_store.accounts.add(who, NewAccount(name, "X", Role.LEARNER), NOW)
        assert fresh_store.accounts.all() == (account,)

    def test_a_taken_name_undoes_the_learner_too(
        self, fresh_store: Store, account: Account
    ) -> None:
        """Within a transaction a name that is taken takes back what was stored before it."""

        def sign_up(inside: Repositories) -> Account:
            return inside.accounts.add(inside.learners.add_new("Odell Pruitt", NOW), WREN, NOW)

        with pytest.raises(SignInTaken):
            fresh_store.transact(sign_up)
        assert fresh_store.learners.get("Odell Pruitt") is None
        check_store(fresh_store)
        assert account.id

    def test_a_person_without_a_password(self, fresh_store: Store, learner: Learner) -> None:
        """An account whose person signs in elsewhere has no password and no time of one."""
        made = fresh_store.accounts.add(learner, NewAccount("wren", "Wren", Role.TEACHER), NOW)
        assert (made.password_hash, made.password_at) == (None, None)

    def test_what_changes_is_stored(self, fresh_store: Store, account: Account) -> None:
        """Name, role, password and being switched off are as they were set last."""
        accounts = fresh_store.accounts
        accounts.set_shown_name(account, "Wren H.\x00")
        accounts.set_role(account, Role.OWNER)
        accounts.set_password(account, "hash two", LATER)
        accounts.set_disabled(account, LATER)
        found = accounts.by_id(account.id)
        assert found is not None
        assert (found.shown_name, found.role) == ("Wren H.\ufffd", Role.OWNER)
        assert (found.password_hash, found.password_at) == ("hash two", LATER)
        assert found.disabled_at == LATER
        assert accounts.owners() == ()
        accounts.set_disabled(account, None)
        assert [each.id for each in accounts.owners()] == [account.id]

    def test_a_new_hash_never_brings_an_old_password_back(
        self, fresh_store: Store, account: Account
    ) -> None:
        """A hash made again of a password that was changed meanwhile is not stored."""
        fresh_store.accounts.set_password(account, "hash two", LATER)
        fresh_store.accounts.set_hash(account, "hash one, stronger")
        found = fresh_store.accounts.by_id(account.id)
        assert found is not None
        assert found.password_hash == "hash two"

    def test_an_account_goes_with_its_learner(
        self, fresh_store: Store, learner: Learner, account: Account
    ) -> None:
        """Deleting a learner deletes their account, sessions and links."""
        begin_session(fresh_store, account)
        fresh_store.account_links.add("b" * 64, at=NOW, expires_at=LATER, account=account)
        fresh_store.learners.delete(learner)
        assert fresh_store.accounts.count() == 0
        with fresh_store._database.reading() as connection:
            for table in (sessions, account_links):
                assert connection.execute(select(table)).all() == []


def test_a_shared_song_shows_no_sign_in_name(
    fresh_store: Store, learner: Learner, account: Account
) -> None:
    """Others see the name that its owner shows; of a learner without an account, the learner's."""
    lock_gate = NewVersion("title: Lock Gate\n\n1 4 5 1", "Lock Gate", "C", 100, "4/4", 4, NOW)
    other = fresh_store.learners.add("Odell Pruitt", NOW)
    fresh_store.accounts.set_shown_name(account, "Wren the Fiddler")
    for who, shown in ((learner, "Wren the Fiddler"), (other, "Odell Pruitt")):
        song = fresh_store.songs.add(who, lock_gate, shared=True)
        found = fresh_store.songs.find(song.uid)
        assert found is not None
        assert found.owner == shown


def test_a_backup_takes_accounts_along(sqlite_location: Path, tmp_path: Path) -> None:
    """What is restored elsewhere has the accounts, the sessions and what servers share."""
    with Store(sqlite_location) as store:
        account = store.accounts.add(store.learners.add("wren", NOW), WREN, NOW)
        begin_session(store, account)
        store.server_secrets.get_or_add("cookies", lambda: "one", NOW)
        store.backup(tmp_path / "backup")
    Store.restore(tmp_path / "backup", tmp_path / "elsewhere")
    with Store(tmp_path / "elsewhere") as store:
        assert store.accounts.all() == (account,)
        assert store.sessions.find("a" * 64) is not None
        assert store.server_secrets.get_or_add("cookies", lambda: "two", NOW) == "one"


class TestSessions:
    def test_a_session_is_found_with_whose_it_is(
        self, fresh_store: Store, learner: Learner, account: Account
    ) -> None:
        """The digest of a token leads to session, account and learner; another one to nothing."""
        session = begin_session(fresh_store, account)
        found = fresh_store.sessions.find("a" * 64)
        assert found is not None
        assert (found.session, found.account, found.learner) == (session, account, learner)
        assert fresh_store.sessions.find("b" * 64) is None

    def test_sessions_end_one_by_one_and_together(
        self, fresh_store: Store, account: Account
    ) -> None:
        """An account ends its own sessions, and nobody else's."""
        first, second = (begin_session(fresh_store, account, x * 64) for x in "ab")
        odell = fresh_store.learners.add("Odell Pruitt", NOW)
        other = fresh_store.accounts.add(odell, NewAccount("odell", "Odell", Role.OWNER), NOW)
        fresh_store.sessions.seen(first, LATER)
        assert [each.id for each in fresh_store.sessions.of(account)] == [first.id, second.id]
        assert not fresh_store.sessions.end(other, first.id)
        assert fresh_store.sessions.end(account, first.id)
        assert fresh_store.sessions.end_all(other) == 0
        assert fresh_store.sessions.end_all(account) == 1
        assert fresh_store.sessions.of(account) == ()

    def test_what_is_over_is_cleared_away(self, fresh_store: Store, account: Account) -> None:
        """Sessions and links whose time is over go, the others stay."""
        begin_session(fresh_store, account)
        fresh_store.account_links.add("b" * 64, at=NOW, expires_at=LATER, role=Role.OWNER)
        for now, is_there in ((LATER - timedelta(seconds=1), True), (LATER, False)):
            fresh_store.sessions.delete_expired(now)
            fresh_store.account_links.delete_expired(now)
            assert (fresh_store.sessions.find("a" * 64) is not None) is is_there
            assert (fresh_store.account_links.find("b" * 64) is not None) is is_there


class TestFailures:
    def test_tries_are_counted_by_name_and_source(self, fresh_store: Store) -> None:
        """Only earlier tries of the span count: of the source, and of the name if one is given."""
        tries = fresh_store.sign_in_failures
        for minute, (name, source) in enumerate(
            [("wren", "192.0.2.7"), ("odell", "192.0.2.7"), ("wren", "192.0.2.8")]
        ):
            tries.add(name, source, NOW + timedelta(minutes=minute))
        last = tries.add("wren", "192.0.2.7", LATER)
        span: dict[str, Any] = {"since": NOW - timedelta(minutes=1), "until": LATER}
        assert tries.before(last, "192.0.2.7", **span).count == 2
        found = tries.before(last, "192.0.2.7", **span, name_hash="wren")
        assert (found.count, found.last_at) == (1, NOW)
        later = span | {"since": NOW}
        assert tries.before(last, "192.0.2.7", **later, name_hash="wren").last_at is None

    def test_tries_are_forgotten(self, fresh_store: Store) -> None:
        """One by one, those of a name and source, and the old ones."""
        tries = fresh_store.sign_in_failures
        span: dict[str, Any] = {"since": NOW - timedelta(hours=1), "until": LATER}
        for forget in (
            tries.forget,
            lambda _: tries.forget_all("wren", "192.0.2.7"),
            lambda _: tries.delete_before(LATER),
        ):
            number = tries.add("wren", "192.0.2.7", NOW)
            assert tries.before(number + 1, "192.0.2.7", **span).count == 1
            forget(number)
            assert tries.before(number + 1, "192.0.2.7", **span).count == 0


class TestLinks:
    def test_a_link_works_once(self, two_stores: tuple[Store, Store]) -> None:
        """Of two who use a link one may, whichever process they ask."""
        mine, other = two_stores
        link = mine.account_links.add("b" * 64, at=NOW, expires_at=LATER, role=Role.TEACHER)
        assert mine.account_links.find("b" * 64) == link
        assert other.account_links.use(link, NOW)
        assert not mine.account_links.use(link, NOW)

    def test_links_are_withdrawn(self, fresh_store: Store, account: Account) -> None:
        """Those of an account go alone, and so do those that make the owner's account."""
        links = fresh_store.account_links
        how: dict[str, Any] = {"at": NOW, "expires_at": LATER}
        links.add("a" * 64, **how, account=account)
        links.add("b" * 64, **how, role=Role.OWNER)
        links.add("c" * 64, **how, role=Role.TEACHER)
        left = {"a", "b", "c"}
        for which, gone in ((account, "a"), (None, "b")):
            links.withdraw(which)
            left -= {gone}
            assert {x for x in "abc" if links.find(x * 64) is not None} == left


class TestLog:
    def test_entries_stay_in_order(self, fresh_store: Store) -> None:
        """The newest entry comes first, of one subject or of all."""
        log = fresh_store.audit_log
        log.add("made", "account:1", at=NOW, who=None, after={"role": "learner"})
        log.add("made", "account:2", at=NOW, who="u1")
        log.add("role", "account:1", at=LATER, who="u1", before={"role": "x"}, after={"role": "y"})
        assert [each.what for each in log.of("account:1")] == ["role", "made"]
        assert [each.subject[-1] for each in log.newest(2)] == ["1", "2"]
        (first,) = log.newest(5, before_id=log.newest(5)[1].id)
        assert (first.who, first.before, first.after) == (None, None, {"role": "learner"})
        log.forget_values("account:1")
        assert [(each.before, each.after) for each in log.of("account:1")] == [(None, None)] * 2

    def test_processes_share_a_secret(self, two_stores: tuple[Store, Store]) -> None:
        """The first process makes it, and every other one gets the same."""
        mine, other = two_stores
        assert mine.server_secrets.get_or_add("cookies", lambda: "one", NOW) == "one"
        assert other.server_secrets.get_or_add("cookies", lambda: "two", NOW) == "one"
