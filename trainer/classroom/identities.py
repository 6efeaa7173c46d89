"""Signing in by a school's own system: which account somebody has whom it vouches for.

An account is found by issuer and subject alone, never by an e-mail address or a name: those can be
given to somebody else, and some systems let people choose them (OpenID Connect Core 1.0, section
5.7). An account that is here already is connected by its own person, who is signed in to it.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.classroom.accounts import fold_sign_in
from trainer.classroom.audit import Done, subject_of
from trainer.errors import AccountError, SignInElsewhereFailed, SignInTaken, StoreConflict
from trainer.store import Role

if TYPE_CHECKING:
    from trainer.classroom.accounts import Accounts
    from trainer.store import Account, Identity, Repositories

__all__ = ["Ticket", "Vouched", "VouchedPeople"]

USED_BEFORE = "This sign-in was used already. Start again from the sign-in page."
SWITCHED_OFF = "Your account here is switched off. Ask the owner of this server."
LONGEST_SHOWN = 80


@dataclass(frozen=True, slots=True)
class Vouched:
    """Somebody whom a school's system has signed in.

    `issuer` is the system's address and `subject` what it calls the person; `issuer_name` is how
    people know the system. `sign_in` and `shown_name` are what it says the person is called. Its
    word makes a new account of `new_role`, or none (None), and teachers of those who are
    `is_teacher`.
    """

    issuer: str
    subject: str
    issuer_name: str
    sign_in: str
    shown_name: str
    new_role: Role | None
    is_teacher: bool = False


@dataclass(frozen=True, slots=True)
class Ticket:
    """Lets a sign-in be used only once: the digest is taken once, and forgotten when it expires."""

    digest: str
    expires_at: datetime


class VouchedPeople:
    """People who sign in by a school's own system.

    Parameters
    ----------
    clock : gives the moment, aware and in UTC.
    accounts : makes new accounts.
    """

    def __init__(
        self, store: Repositories, clock: Callable[[], datetime], accounts: Accounts
    ) -> None:
        self._store, self._clock, self._accounts = store, clock, accounts

    def account_of(self, person: Vouched, ticket: Ticket) -> Account:
        """The account of somebody who signs in; it is made, or they become a teacher, if the
        school's word is enough for that.

        Raises
        ------
        SignInElsewhereFailed
            If the ticket was used, there is no account for the person, or it is switched off.
        """

        def work(within: Repositories) -> Account:
            self._use(within, ticket)
            account = within.identities.account_of(person.issuer, person.subject)
            if account is None:
                return self._make(within, person)
            if account.disabled_at is not None:
                raise SignInElsewhereFailed(SWITCHED_OFF)
            within.identities.used(person.issuer, person.subject, self._clock())
            if person.is_teacher and account.role is Role.LEARNER:
                account = self._raise(within, account, person)
            return account

        return self._store.transact(work)

    def connect(self, account: Account, person: Vouched, ticket: Ticket) -> None:
        """Have somebody who is signed in sign in by the school's system, too, from now on.

        Raises
        ------
        SignInElsewhereFailed
            If the ticket was used, or the identity belongs to another account.
        """

        def work(within: Repositories) -> None:
            self._use(within, ticket)
            known = within.identities.account_of(person.issuer, person.subject)
            if known is not None and known.id != account.id:
                raise SignInElsewhereFailed(
                    f"Somebody else here signs in as that person of {person.issuer_name}. Delete "
                    "that account first, or sign in with it."
                )
            if known is None:
                self._add(within, account, person)

        self._store.transact(work)

    def disconnect(self, account: Account, identity_id: int) -> Identity | None:
        """Take an identity from an account; what it was, None if it has no such one.

        Raises
        ------
        AccountError
            If there would be no way left to sign in.
        """
        if account.password_hash is None:
            raise AccountError(
                "You have no password here, so you couldn't sign in any more. Ask the owner of "
                "this server for a link to set one first."
            )

        def work(within: Repositories) -> Identity | None:
            found = within.identities.remove(account, identity_id)
            if found is not None:
                within.audit_log.add(
                    Done.DISCONNECTED,
                    subject_of(account),
                    at=self._clock(),
                    who=account.uid,
                    before={"issuer": found.issuer},
                )
            return found

        return self._store.transact(work)

    def _use(self, within: Repositories, ticket: Ticket) -> None:
        if not within.used_once.use(ticket.digest, self._clock(), ticket.expires_at):
            raise SignInElsewhereFailed(USED_BEFORE)

    def _make(self, within: Repositories, person: Vouched) -> Account:
        if person.new_role is None:
            raise SignInElsewhereFailed(
                f"{person.issuer_name} knows you, but you have no account here yet. Join with a "
                "code or a link first. Then connect the account on its page."
            )
        sign_in = _free_name(within, person.sign_in)
        shown = " ".join(person.shown_name.split())[:LONGEST_SHOWN].strip() or sign_in
        try:
            account = self._accounts.add_without_password(within, sign_in, shown, person.new_role)
        except SignInTaken as error:
            raise StoreConflict(str(error)) from error
        self._add(within, account, person)
        return account

    def _add(self, within: Repositories, account: Account, person: Vouched) -> None:
        now = self._clock()
        within.identities.add(account, person.issuer, person.subject, now)
        within.audit_log.add(
            Done.CONNECTED,
            subject_of(account),
            at=now,
            who=account.uid,
            after={"issuer": person.issuer},
        )

    def _raise(self, within: Repositories, account: Account, person: Vouched) -> Account:
        within.accounts.set_role(account, Role.TEACHER)
        within.audit_log.add(
            Done.ROLE_CHANGED,
            subject_of(account),
            at=self._clock(),
            who=None,
            before={"role": account.role.value},
            after={"role": Role.TEACHER.value, "issuer": person.issuer},
        )
        found = within.accounts.by_id(account.id)
        assert found is not None
        return found


def _free_name(within: Repositories, wish: str) -> str:
    """A sign-in name that nobody has: what the school calls the person if possible."""
    try:
        base = fold_sign_in(wish)
    except AccountError:
        base = "member"
    name = base
    while within.learners.get(name) is not None or within.accounts.by_sign_in(name) is not None:
        name = f"{base[:48]}-{secrets.token_hex(3)}"
    return name
