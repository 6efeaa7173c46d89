"""Signing in and out: what a browser that is signed in holds, and when that ends.

A session is a row of the store, found by the digest of a random token that the browser keeps. So
the server can end any session at once: at sign-out, with a new password, when an account is
switched off. Every sign-in makes a new token, whatever the browser sent before.

A session ends 30 days after sign-in (the longest that NIST SP 800-63B-4 allows at its first level,
section 2.1.3), and 14 days after its last use; on a computer that others use, 12 hours after
sign-in and an hour after its last use.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from trainer.classroom.accounts import fold_sign_in
from trainer.classroom.audit import Done, subject_of
from trainer.classroom.passwords import Passwords, check_password
from trainer.classroom.tokens import TokenSource, digest_of, is_same, new_token, sign
from trainer.classroom.tries import FREE_AT_CODES, Tries, source_of
from trainer.errors import AccountError, SignInRefused, StoreLocked

if TYPE_CHECKING:
    from trainer.store import Account, Repositories, Session, SignedIn

__all__ = ["Browser", "NewSession", "Sessions"]

LASTS, IDLE = timedelta(days=30), timedelta(days=14)
SHARED_LASTS, SHARED_IDLE = timedelta(hours=12), timedelta(hours=1)
# That a session is in use is stored so seldom that pages hardly ever wait for it.
NOTE_USE_EVERY = timedelta(minutes=5)
_DEVICES = "devices"
_LOG = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Browser:
    """Where somebody signs in from: the network address, the browser in words, the marks that
    earlier sign-ins left there, and whether others use this computer, too."""

    address: str
    client: str
    marks: tuple[str, ...] = ()
    is_shared: bool = False


@dataclass(frozen=True, slots=True)
class NewSession:
    """What a browser is given at sign-in: the session's token, and the mark that it keeps, which
    is "" on a computer that others use, too."""

    account: Account
    token: str
    mark: str


class Sessions:
    """The sessions of a store.

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
        self._tries = Tries(store)

    def sign_in(self, name: str, password: str, browser: Browser) -> NewSession:
        """Begin a session for whoever has that name and password.

        Raises
        ------
        SignInRefused
            If they do not belong together, or the account is switched off.
        TooManyTries
            If it has to wait.
        """
        now = self._clock()
        self._tidy(now)
        try:
            folded = fold_sign_in(name)
        except AccountError:
            # A name that nobody can have is tried like any other.
            folded = name.casefold()
        account = self._store.accounts.by_sign_in(folded)
        this = self._tries.begin(folded, self._source(account, browser), now)
        if not self._is_right(account, password):
            raise SignInRefused
        assert account is not None
        self._tries.succeed(this)
        self._renew_hash(account, password)
        return self.begin(account, browser)

    def begin(self, account: Account, browser: Browser) -> NewSession:
        """Begin a session for somebody who has shown who they are."""
        now, token = self._clock(), self._token()
        lasts, idle = (SHARED_LASTS, SHARED_IDLE) if browser.is_shared else (LASTS, IDLE)
        self._store.sessions.add(
            account,
            digest_of(token),
            at=now,
            expires_at=now + lasts,
            idle_s=int(idle.total_seconds()),
            client=browser.client,
        )
        return NewSession(account, token, "" if browser.is_shared else self._mark_of(account))

    def find(self, token: str) -> SignedIn | None:
        """Who is signed in with a token; None if that has ended."""
        found = self._store.sessions.find(digest_of(token)) if token else None
        now = self._clock()
        if found is None or found.account.disabled_at is not None:
            return None
        if has_ended(found.session, now):
            return None
        if now - found.session.seen_at >= NOTE_USE_EVERY:
            self._note_use(found.session, now)
        return found

    def _note_use(self, session: Session, now: datetime) -> None:
        """Note that a session is in use. While another program writes for long, a page is shown
        without that; the next one notes it."""
        try:
            self._store.sessions.seen(session, now)
        except StoreLocked as error:
            _LOG.info("the use of a session is noted later: %s", error)

    def of(self, account: Account) -> tuple[Session, ...]:
        """An account's sessions that have not ended, the one used last first."""
        now = self._clock()
        return tuple(each for each in self._store.sessions.of(account) if not has_ended(each, now))

    def end(self, account: Account, session_id: int) -> bool:
        """End one of an account's sessions; whether it had that one."""
        return self._store.sessions.end(account, session_id)

    def sign_out(self, token: str) -> None:
        """End the session of a token, if there is one."""
        if token:
            self._store.sessions.end_token(digest_of(token))

    def end_all(self, account: Account) -> None:
        """End every session of an account."""

        def work(within: Repositories) -> None:
            within.sessions.end_all(account)
            within.audit_log.add(
                Done.SIGNED_OUT, subject_of(account), at=self._clock(), who=account.uid
            )

        self._store.transact(work)

    @contextmanager
    def slowed(self, what: str, browser: Browser, failure: type[Exception]) -> Iterator[None]:
        """Count what is done here as a failed try at `what`, such as the code of a class, if it
        raises `failure`.

        Raises TooManyTries if it has to wait.
        """
        now = self._clock()
        this = self._tries.begin(what, source_of(browser.address), now, free=FREE_AT_CODES)
        try:
            yield
        except failure:
            raise
        except BaseException:
            self._tries.undo(this)
            raise
        # Who knows one code is not free to guess others.
        self._tries.undo(this)

    def check_password(self, account: Account, password: str, browser: Browser) -> None:
        """See that somebody who is signed in knows the password, too.

        Raises
        ------
        SignInRefused, TooManyTries
            As at sign-in.
        """
        this = self._tries.begin(account.sign_in, self._source(account, browser), self._clock())
        if not self._is_right(account, password):
            raise SignInRefused
        self._tries.succeed(this)

    def change_password(
        self, account: Account, password: str, new: str, browser: Browser
    ) -> NewSession:
        """Set another password and end every session; the browser that asked gets a new one.

        Raises
        ------
        AccountError
            If the present password is wrong, or the new one is refused.
        """
        self.check_password(account, password, browser)
        check_password(new, (account.sign_in, account.shown_name))
        kept, now = self._passwords.hash(new), self._clock()

        def work(within: Repositories) -> Account:
            within.accounts.set_password(account, kept, now)
            within.sessions.end_all(account)
            within.account_links.withdraw(account)
            within.audit_log.add(
                Done.PASSWORD_CHANGED, subject_of(account), at=now, who=account.uid
            )
            changed = within.accounts.by_id(account.id)
            assert changed is not None
            return changed

        return self.begin(self._store.transact(work), browser)

    def _is_right(self, account: Account | None, password: str) -> bool:
        kept = None if account is None else account.password_hash
        is_right = self._passwords.matches(kept, password)
        return is_right and account is not None and account.disabled_at is None

    def _renew_hash(self, account: Account, password: str) -> None:
        """Keep a hash of the present costs."""
        assert account.password_hash is not None
        if self._passwords.is_outdated(account.password_hash):
            self._store.accounts.set_hash(account, self._passwords.hash(password))

    def _source(self, account: Account | None, browser: Browser) -> str:
        """What a try counts under: a browser that this account signed in with before, else the
        network address."""
        if account is not None:
            own = self._mark_of(account)
            if any(is_same(mark, own) for mark in browser.marks):
                return f"browser {digest_of(own)[:32]}"
        return source_of(browser.address)

    def _mark_of(self, account: Account) -> str:
        """What a browser keeps of an account's sign-in; a new password makes another one."""
        secret = self._store.server_secrets.get_or_add(_DEVICES, self._token, self._clock())
        return sign(secret, f"{account.uid} {account.password_at}")

    def _tidy(self, now: datetime) -> None:
        self._store.sessions.delete_expired(now)
        self._store.account_links.delete_expired(now)
        self._tries.tidy(now)


def has_ended(session: Session, now: datetime) -> bool:
    """Whether a session's time is over, or it was not used for too long."""
    idle = timedelta(seconds=session.idle_s)
    return session.expires_at <= now or now - session.seen_at > idle
