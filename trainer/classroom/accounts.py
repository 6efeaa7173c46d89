"""Accounts: signing up, links that make an account or set a password, and looking after them."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from trainer.classroom.audit import Done, subject_of
from trainer.classroom.passwords import Passwords, check_password
from trainer.classroom.tokens import TokenSource, digest_of, new_token
from trainer.errors import AccountError, LinkUseless, SettingsError, SignInTaken
from trainer.store import NewAccount, Role

if TYPE_CHECKING:
    from trainer.store import Account, AccountLink, Repositories

__all__ = ["Accounts", "NewPerson", "fold_sign_in"]

SHORTEST_SIGN_IN, LONGEST_SIGN_IN = 2, 60
_SIGN_IN = re.compile(r"[^\W_][\w.@+-]*")
OWNER_LINK_LASTS = timedelta(hours=24)
RESET_LINK_LASTS = timedelta(hours=24)
INVITATION_LASTS = timedelta(days=7)


@dataclass(frozen=True, slots=True)
class NewPerson:
    """What somebody types to get an account."""

    sign_in: str
    shown_name: str
    password: str


def fold_sign_in(name: str) -> str:
    """A sign-in name as it is compared and kept: without case, in the normal form NFKC.

    Raises
    ------
    AccountError
        If it cannot be one.
    """
    folded = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold()).strip()
    if SHORTEST_SIGN_IN <= len(folded) <= LONGEST_SIGN_IN and _SIGN_IN.fullmatch(folded):
        return folded
    raise AccountError(
        f"A name to sign in with has {SHORTEST_SIGN_IN} to {LONGEST_SIGN_IN} letters and digits, "
        "and may have dots, hyphens or an @ between them, but no spaces."
    )


def _clean_shown(name: str) -> str:
    from trainer.store import clean_name

    try:
        return clean_name(name)
    except SettingsError as error:
        raise AccountError("Your name needs 1 to 80 characters that can be shown.") from error


class Accounts:
    """The accounts of a store.

    Parameters
    ----------
    clock : gives the moment, aware and in UTC.
    passwords : makes and checks hashes.
    token : makes random tokens.
    """

    def __init__(
        self,
        store: Repositories,
        clock: Callable[[], datetime],
        passwords: Passwords,
        token: TokenSource = new_token,
    ) -> None:
        self._store, self._clock = store, clock
        self._passwords, self._token = passwords, token

    def sign_up(
        self,
        person: NewPerson,
        role: Role,
        *,
        also: Callable[[Repositories, Account], None] | None = None,
    ) -> Account:
        """Make an account with a learner's record of its own.

        `also` is done in the same transaction; the account is not made if it raises.

        Raises
        ------
        AccountError
            If the name is taken or cannot be one, or the password is refused.
        """
        new = self._checked(person, role)

        def work(within: Repositories) -> Account:
            account = self._add(within, new)
            if also is not None:
                also(within, account)
            return account

        return self._store.transact(work)

    def _checked(self, person: NewPerson, role: Role) -> NewAccount:
        sign_in, shown = fold_sign_in(person.sign_in), _clean_shown(person.shown_name)
        check_password(person.password, (sign_in, shown))
        if self._store.learners.get(sign_in) is not None:
            raise SignInTaken(sign_in)
        return NewAccount(sign_in, shown, role, self._passwords.hash(person.password))

    def _add(self, within: Repositories, new: NewAccount) -> Account:
        now = self._clock()
        try:
            learner = within.learners.add_new(new.sign_in, now)
        except SettingsError as error:
            raise SignInTaken(new.sign_in) from error
        account = within.accounts.add(learner, new, now)
        within.audit_log.add(
            Done.MADE, subject_of(account), at=now, who=account.uid, after={"role": new.role.value}
        )
        return account

    def add_without_password(
        self, within: Repositories, sign_in: str, shown_name: str, role: Role
    ) -> Account:
        """Within a transaction: make the account of somebody who signs in elsewhere.

        `sign_in` is a folded name. A name that cannot be shown is replaced by it.

        Raises
        ------
        SignInTaken
            If the name is taken.
        """
        try:
            shown = _clean_shown(shown_name)
        except AccountError:
            shown = sign_in
        return self._add(within, NewAccount(sign_in, shown, role))

    def owner_link(self) -> str:
        """A token for making the account of an owner of the server, for the one at the machine."""
        return self._link(None, role=Role.OWNER, lasts=OWNER_LINK_LASTS)

    def invite_teacher(self, by: Account) -> str:
        """A token with which somebody makes a teacher's account."""
        return self._link(by, role=Role.TEACHER, lasts=INVITATION_LASTS)

    def reset_link(self, account: Account, by: Account | None) -> str:
        """A token with which somebody sets a new password; earlier ones no longer work.

        `by` is None for the one at the machine.
        """
        return self._link(by, account=account, lasts=RESET_LINK_LASTS)

    def _link(
        self,
        by: Account | None,
        *,
        lasts: timedelta,
        account: Account | None = None,
        role: Role | None = None,
    ) -> str:
        token, now = self._token(), self._clock()

        def work(within: Repositories) -> None:
            within.account_links.delete_expired(now)
            if account is not None:
                within.account_links.withdraw(account)
            digest, until = digest_of(token), now + lasts
            within.account_links.add(digest, at=now, expires_at=until, account=account, role=role)
            within.audit_log.add(
                Done.LINK_MADE,
                "the server" if account is None else subject_of(account),
                at=now,
                who=None if by is None else by.uid,
                after={"role": role.value} if role is not None else None,
            )

        self._store.transact(work)
        return token

    def find_link(self, token: str) -> tuple[AccountLink, Account | None]:
        """What a link is for, with the account whose password it sets.

        Raises
        ------
        LinkUseless
            If it does not work (any more).
        """
        link = self._store.account_links.find(digest_of(token))
        if link is None or link.used_at is not None or link.expires_at <= self._clock():
            raise LinkUseless
        if link.account_id is None:
            return link, None
        account = self._store.accounts.by_id(link.account_id)
        if account is None or account.disabled_at is not None:
            raise LinkUseless
        return link, account

    def sign_up_by_link(self, token: str, person: NewPerson) -> Account:
        """Make the account that a link is for.

        Raises
        ------
        AccountError
            If the link does not work, or as in `sign_up`.
        """
        link, _ = self.find_link(token)
        if link.role is None:
            raise LinkUseless
        is_owner = link.role is Role.OWNER

        def use(within: Repositories, account: Account) -> None:
            del account
            if not within.account_links.use(link, self._clock()):
                raise LinkUseless
            if is_owner:
                # Another start of the server may have printed one, too.
                within.account_links.withdraw(None)

        return self.sign_up(person, link.role, also=use)

    def set_password_by_link(self, token: str, password: str) -> Account:
        """Set the password of the account that a link is for, and end its sessions.

        Raises
        ------
        AccountError
            If the link does not work or the password is refused.
        """
        link, account = self.find_link(token)
        if account is None:
            raise LinkUseless
        check_password(password, (account.sign_in, account.shown_name))
        kept, now = self._passwords.hash(password), self._clock()

        def work(within: Repositories) -> None:
            if not within.account_links.use(link, now):
                raise LinkUseless
            within.accounts.set_password(account, kept, now)
            within.sessions.end_all(account)
            within.audit_log.add(Done.PASSWORD_SET, subject_of(account), at=now, who=account.uid)

        self._store.transact(work)
        return replace(account, password_hash=kept, password_at=now)

    def set_shown_name(self, account: Account, name: str) -> None:
        """Give an account another name to be shown. Raises AccountError."""
        shown = _clean_shown(name)

        def work(within: Repositories) -> None:
            within.accounts.set_shown_name(account, shown)
            within.audit_log.add(
                Done.NAME_CHANGED,
                subject_of(account),
                at=self._clock(),
                who=account.uid,
                before={"name": account.shown_name},
                after={"name": shown},
            )

        self._store.transact(work)

    def set_role(self, account: Account, role: Role, by: Account) -> None:
        """Give an account another role. Raises AccountError for the last owner."""

        def work(within: Repositories) -> None:
            if role is not Role.OWNER:
                _keep_an_owner(within, account)
            within.accounts.set_role(account, role)
            within.audit_log.add(
                Done.ROLE_CHANGED,
                subject_of(account),
                at=self._clock(),
                who=by.uid,
                before={"role": account.role.value},
                after={"role": role.value},
            )

        self._store.transact(work)

    def switch_off(self, account: Account, by: Account | None) -> None:
        """Have somebody no longer sign in, and end their sessions and links.

        Raises AccountError for the last owner; `by` is None for the one at the machine.
        """

        def work(within: Repositories) -> None:
            _keep_an_owner(within, account)
            now = self._clock()
            within.accounts.set_disabled(account, now)
            within.sessions.end_all(account)
            within.account_links.withdraw(account)
            _note(within, Done.SWITCHED_OFF, account, by, now)

        self._store.transact(work)

    def switch_on(self, account: Account, by: Account | None) -> None:
        """Let somebody sign in again."""

        def work(within: Repositories) -> None:
            within.accounts.set_disabled(account, None)
            _note(within, Done.SWITCHED_ON, account, by, self._clock())

        self._store.transact(work)

    def delete(self, account: Account, by: Account | None) -> None:
        """Delete an account with its learner and everything that is theirs.

        The log keeps that it was deleted, and no longer what it was called. Raises AccountError for
        the last owner.
        """

        def work(within: Repositories) -> None:
            _keep_an_owner(within, account)
            learner = within.learners.by_id(account.learner_id)
            if learner is not None:
                within.learners.delete(learner)
            within.audit_log.forget_values(subject_of(account))
            _note(within, Done.DELETED, account, by, self._clock())

        self._store.transact(work)


def _note(
    within: Repositories, what: str, account: Account, by: Account | None, now: datetime
) -> None:
    within.audit_log.add(what, subject_of(account), at=now, who=None if by is None else by.uid)


def _keep_an_owner(within: Repositories, account: Account) -> None:
    """See that somebody is left to look after the server. Raises AccountError."""
    owners = within.accounts.owners(lock=True)
    if [owner.id for owner in owners] == [account.id]:
        raise AccountError(
            "This is the only owner of the server. Make somebody else an owner first."
        )
