"""Signing up, links, roles, and deleting an account."""

from __future__ import annotations

import pytest

from tests.classroom.people import HOME, OTHER_WORDS, WORDS, School
from tests.store.samples import check_store, exercise, hand_in
from trainer.classroom import NewPerson
from trainer.classroom.accounts import fold_sign_in
from trainer.classroom.audit import subject_of
from trainer.classroom.tokens import digest_of
from trainer.errors import AccountError, LinkUseless, PasswordRefused, SignInRefused, SignInTaken
from trainer.store import Account, Repositories, Role

ODELL = NewPerson("odell", "Odell Pruitt", OTHER_WORDS)


class TestNames:
    @pytest.mark.parametrize(
        ("typed", "kept"),
        [
            ("Wren.Halloway", "wren.halloway"),
            (" zoë ", "zoë"),
            ("Straße7", "strasse7"),
            ("ｗｒｅｎ", "wren"),
            ("wren@millrace.example", "wren@millrace.example"),
            ("李小", "李小"),
        ],
    )
    def test_names_that_look_alike_are_one(self, typed: str, kept: str) -> None:
        """Case and the way letters are composed make no other name (Unicode NFKC, casefold)."""
        assert fold_sign_in(typed) == kept

    @pytest.mark.parametrize(
        "name",
        ["", "w", "x" * 61, "wren halloway", ".wren", "wr\ten", "a\x00b", "<b>wren</b>",
         "wren'; --", "../wren", "_wren"],
    )  # fmt: skip
    def test_other_names_are_refused(self, name: str) -> None:
        """Spaces, signs and names of one letter sign nobody in."""
        with pytest.raises(AccountError, match="2 to 60"):
            fold_sign_in(name)

    def test_a_name_is_taken_once(self, school: School) -> None:
        """Neither an account's name nor that of a record without an account is given again."""
        school.sign_up("wren")
        school.store.learners.add("odell", school.clock())
        for name in ("WREN", "odell"):
            with pytest.raises(SignInTaken):
                school.sign_up(name)
        assert school.store.accounts.count() == 1

    @pytest.mark.parametrize("name", ["", " ", "x" * 81, "a\u202eb"])
    def test_a_shown_name_can_be_shown(self, small_school: School, name: str) -> None:
        """A name that is empty, too long or turns the line round is refused."""
        with pytest.raises(AccountError, match="1 to 80"):
            small_school.accounts.sign_up(NewPerson("wren", name, WORDS), Role.LEARNER)
        account = small_school.sign_up()
        with pytest.raises(AccountError, match="1 to 80"):
            small_school.accounts.set_shown_name(account, name)

    def test_two_people_may_be_called_the_same(self, school: School) -> None:
        """Only the name to sign in with is unique."""
        for name in ("wren", "wren2"):
            school.accounts.sign_up(NewPerson(name, "Wren Halloway", WORDS), Role.LEARNER)
        shown = [account.shown_name for account in school.store.accounts.all()]
        assert shown == ["Wren Halloway", "Wren Halloway"]


class TestSignUp:
    def test_an_account_has_a_learner_of_its_own(self, school: School) -> None:
        """The learner is new, was not shown the hearing caution, and is found by the account."""
        account = school.sign_up()
        learner = school.store.learners.get("wren")
        assert learner is not None
        assert (account.learner_id, learner.caution_at) == (learner.id, None)
        assert school.store.accounts.of_learner(learner) == account

    def test_all_of_it_or_nothing(self, school: School) -> None:
        """What belongs to signing up is undone with it: no account and no learner are left."""

        def join(within: Repositories, account: Account) -> None:
            assert within.accounts.by_id(account.id) == account
            raise AccountError("This code is not known.")

        with pytest.raises(AccountError, match="not known"):
            school.accounts.sign_up(ODELL, Role.LEARNER, also=join)
        assert school.store.accounts.count() == 0
        assert school.store.learners.all() == ()
        assert school.store.audit_log.newest(1) == ()

    def test_an_easy_password_makes_nobody(self, school: School) -> None:
        """The password is checked against the names, too."""
        with pytest.raises(PasswordRefused):
            school.accounts.sign_up(NewPerson("odell", "Odell", "odell 12345678"), Role.LEARNER)
        assert school.store.accounts.count() == 0


class TestLinks:
    def test_the_first_link_makes_the_owner_once(self, school: School) -> None:
        """It works once and for a day; other links for owners end with it."""
        first, second = school.accounts.owner_link(), school.accounts.owner_link()
        assert first != second
        owner = school.accounts.sign_up_by_link(first, ODELL)
        assert owner.role is Role.OWNER
        for token in (first, second):
            with pytest.raises(LinkUseless):
                school.accounts.sign_up_by_link(token, NewPerson("wren", "Wren", WORDS))
        assert school.sessions.sign_in("odell", OTHER_WORDS, HOME).token

    @pytest.mark.parametrize(("kind", "hours"), [("owner", 24), ("teacher", 7 * 24), ("reset", 24)])
    def test_links_expire(self, school: School, kind: str, hours: int) -> None:
        """After its time a link is worth nothing."""
        owner = school.sign_up("odell", Role.OWNER)
        token = {
            "owner": school.accounts.owner_link,
            "teacher": lambda: school.accounts.invite_teacher(owner),
            "reset": lambda: school.accounts.reset_link(owner, None),
        }[kind]()
        school.clock.passes(hours=hours, seconds=-1)
        assert school.accounts.find_link(token)
        school.clock.passes(seconds=1)
        with pytest.raises(LinkUseless):
            school.accounts.find_link(token)

    def test_only_digests_are_stored(self, school: School) -> None:
        """The store finds a link by the digest of its token and not by the token."""
        token = school.accounts.owner_link()
        assert school.store.account_links.find(digest_of(token)) is not None
        assert school.store.account_links.find(token) is None

    def test_a_refused_password_leaves_the_link(self, school: School) -> None:
        """Who typed something too easy tries again with the same link."""
        token = school.accounts.owner_link()
        with pytest.raises(PasswordRefused):
            school.accounts.sign_up_by_link(token, NewPerson("odell", "Odell", "short"))
        assert school.accounts.sign_up_by_link(token, ODELL).uid

    def test_a_reset_link_sets_a_password(self, school: School) -> None:
        """The old password and all sessions end; of two links the newer one works."""
        account, owner = school.sign_up(), school.sign_up("odell", Role.OWNER)
        token = school.sessions.sign_in("wren", WORDS, HOME).token
        older, newer = (school.accounts.reset_link(account, owner) for _ in range(2))
        with pytest.raises(LinkUseless):
            school.accounts.set_password_by_link(older, OTHER_WORDS)
        school.accounts.set_password_by_link(newer, OTHER_WORDS)
        assert school.sessions.find(token) is None
        with pytest.raises(SignInRefused):
            school.sessions.sign_in("wren", WORDS, HOME)
        assert school.sessions.sign_in("wren", OTHER_WORDS, HOME).token
        with pytest.raises(LinkUseless):
            school.accounts.set_password_by_link(newer, WORDS)

    def test_a_link_does_what_it_is_for(self, school: School) -> None:
        """A link for a new account sets no password, and one for a password makes no account."""
        account = school.sign_up()
        with pytest.raises(LinkUseless):
            school.accounts.set_password_by_link(school.accounts.owner_link(), OTHER_WORDS)
        with pytest.raises(LinkUseless):
            school.accounts.sign_up_by_link(school.accounts.reset_link(account, None), ODELL)
        with pytest.raises(LinkUseless):
            school.accounts.find_link("guessed")

    def test_a_changed_password_ends_reset_links(self, school: School) -> None:
        """A link that lies in an old message no longer opens the account."""
        account = school.sign_up()
        token = school.accounts.reset_link(account, None)
        school.sessions.change_password(account, WORDS, OTHER_WORDS, HOME)
        with pytest.raises(LinkUseless):
            school.accounts.find_link(token)

    def test_who_is_switched_off_needs_no_password(self, school: School) -> None:
        """Links made before and after are worth nothing until the account is switched on."""
        account = school.sign_up()
        before = school.accounts.reset_link(account, None)
        school.accounts.switch_off(account, None)
        for token in (before, school.accounts.reset_link(account, None)):
            with pytest.raises(LinkUseless):
                school.accounts.set_password_by_link(token, OTHER_WORDS)


class TestOwners:
    def test_one_owner_always_stays(self, school: School) -> None:
        """The last owner who can sign in is neither demoted, switched off nor deleted."""
        owner, other = school.sign_up("odell", Role.OWNER), school.sign_up("wren", Role.OWNER)
        school.accounts.switch_off(other, owner)
        for change in (
            lambda: school.accounts.set_role(owner, Role.TEACHER, owner),
            lambda: school.accounts.switch_off(owner, owner),
            lambda: school.accounts.delete(owner, owner),
        ):
            with pytest.raises(AccountError, match="only owner"):
                change()
        school.accounts.switch_on(other, owner)
        school.accounts.set_role(owner, Role.LEARNER, other)
        assert school.again(owner).role is Role.LEARNER

    def test_changes_stand_in_the_log(self, school: School) -> None:
        """Who did what, with the values before and after."""
        owner, account = school.sign_up("odell", Role.OWNER), school.sign_up()
        school.accounts.set_role(account, Role.TEACHER, owner)
        school.accounts.set_shown_name(account, "Wren")
        school.accounts.switch_off(account, None)
        entries = school.store.audit_log.of(subject_of(account))
        assert [(each.what, each.who) for each in reversed(entries)] == [
            ("account made", account.uid),
            ("role changed", owner.uid),
            ("shown name changed", account.uid),
            ("account switched off", None),
        ]
        assert (entries[2].before, entries[2].after) == ({"role": "learner"}, {"role": "teacher"})
        assert {each.at for each in entries} == {school.clock()}

    def test_deleting_leaves_nothing_of_the_person(self, school: School) -> None:
        """Record, account and sessions go; the log only says that some account was deleted."""
        owner, account = school.sign_up("odell", Role.OWNER), school.sign_up()
        learner = school.store.learners.get("wren")
        assert learner is not None
        kept = school.store.exercises.keep(learner, exercise())
        hand_in(school.store, learner, kept, school.clock())
        school.accounts.set_shown_name(account, "Wren Halloway")
        token = school.sessions.sign_in("wren", WORDS, HOME).token
        school.accounts.delete(account, owner)
        assert school.sessions.find(token) is None
        assert school.store.learners.get("wren") is None
        assert school.store.accounts.by_uid(account.uid) is None
        entries = school.store.audit_log.of(subject_of(account))
        assert entries[0].what == "account deleted"
        assert [each for each in entries if each.before or each.after] == []
        check_store(school.store)
