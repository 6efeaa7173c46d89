"""Classes: who teaches and who learns in them, and the codes with which learners join.

Who may do what is decided here: a class is changed by its teachers, and seen by its members.
"""

from __future__ import annotations

import secrets
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from trainer.errors import ClassError, ClassNotFound
from trainer.store import Account, ClassRecord, JoinCode, Member, storable

if TYPE_CHECKING:
    from trainer.store import Repositories

__all__ = ["CODE_LASTS", "Classes", "join_class", "new_join_code"]

TEACHER, LEARNER = "teacher", "learner"
CODE_LASTS = timedelta(days=14)
# Letters and digits that nobody takes for others when they are read from a board.
CODE_LETTERS = "ABCDEFGHJKMNPQRSTUVWXYZ23456789"
# About 50 bits.
CODE_LENGTH = 10
LONGEST_NAME, LONGEST_TERM = 80, 40
NO_CLASS = "There is no such class here, or you're not in it."
NO_CODE = (
    "This code doesn't open a class. Check how it's written, or ask your teacher for a new one."
)


def new_join_code() -> str:
    """A join code that nobody can guess."""
    return "".join(secrets.choice(CODE_LETTERS) for _ in range(CODE_LENGTH))


def join_class(store: Repositories, account: Account, code: str, now: datetime) -> ClassRecord:
    """Put an account into the class of a join code, as a learner.

    Whoever is in the class already stays as they are. A code may be typed with spaces, hyphens and
    small letters. `store` may be the repositories of a transaction, so that a new account is made
    together with this.

    Raises
    ------
    ClassError
        If no class has that code, it has expired, or the class is closed.
    """
    typed = "".join(each for each in code.upper() if each not in " -")
    known = store.classes.find_code(typed) if 0 < len(typed) <= 2 * CODE_LENGTH else None
    found = store.classes.get(known.class_id) if known is not None else None
    if known is None or found is None or not known.holds(now):
        raise ClassError(NO_CODE)
    if found.closed_at is not None:
        raise ClassError(f"{found.name} is closed, so nobody can join it any more.")
    there = store.classes.member(found.id, account.id)
    if there is None or there.left_at is not None:
        store.classes.join(found.id, account.id, LEARNER, now)
    return found


class Classes:
    """The classes of one account.

    Parameters
    ----------
    clock : gives the moment, aware and in UTC.
    code : makes join codes.
    """

    def __init__(
        self,
        store: Repositories,
        account: Account,
        clock: Callable[[], datetime],
        code: Callable[[], str] = new_join_code,
    ) -> None:
        self.store, self.account, self.clock = store, account, clock
        self._code = code

    def taught(self) -> tuple[ClassRecord, ...]:
        """The classes that the account teaches, newest first."""
        mine = self.store.classes.of_account(self.account.id)
        return tuple(each for each, role in mine if role == TEACHER)

    def joined(self) -> tuple[ClassRecord, ...]:
        """The classes in which the account learns, newest first."""
        mine = self.store.classes.of_account(self.account.id)
        return tuple(each for each, role in mine if role == LEARNER)

    def make(self, name: str, term: str) -> ClassRecord:
        """Make a class that the account teaches, with a join code. Raises ClassError."""
        name, term = _clean(name, "name", LONGEST_NAME), _clean(term, "term", LONGEST_TERM, 0)

        def work(store: Repositories) -> ClassRecord:
            now = self.clock()
            made = store.classes.add(self.account.id, name, term, now)
            store.classes.add_code(made.id, self._code(), now, now + CODE_LASTS)
            self._log(store, "class made", made, after={"name": name, "term": term})
            return made

        return self.store.transact(work)

    def teach(self, uid: str) -> ClassRecord:
        """A class that the account teaches. Raises ClassNotFound."""
        return self._in(uid, (TEACHER,))

    def attend(self, uid: str) -> ClassRecord:
        """A class that the account teaches or learns in. Raises ClassNotFound."""
        return self._in(uid, (TEACHER, LEARNER))

    def rename(self, uid: str, name: str, term: str) -> ClassRecord:
        """Give a class another name and term. Raises ClassNotFound, ClassError."""
        found = self.teach(uid)
        name, term = _clean(name, "name", LONGEST_NAME), _clean(term, "term", LONGEST_TERM, 0)
        before = {"name": found.name, "term": found.term}

        def work(store: Repositories) -> ClassRecord:
            changed = store.classes.change(found, name, term)
            self._log(store, "class renamed", found, before, {"name": name, "term": term})
            return changed

        return self.store.transact(work)

    def close(self, uid: str, *, closed: bool) -> ClassRecord:
        """Close a class, whose join code ends, or open it again. Raises ClassNotFound."""
        found = self.teach(uid)

        def work(store: Repositories) -> ClassRecord:
            now = self.clock()
            if closed:
                store.classes.end_codes(found.id, now)
            self._log(store, "class closed" if closed else "class opened again", found)
            return store.classes.close(found, now if closed else None)

        return self.store.transact(work)

    def code_of(self, uid: str) -> JoinCode | None:
        """The join code of a class that the account teaches, None if none holds."""
        found = self.store.classes.code_of(self.teach(uid).id)
        return found if found is not None and found.holds(self.clock()) else None

    def renew_code(self, uid: str, lasts: timedelta = CODE_LASTS) -> JoinCode:
        """Give a class a new join code; the one before ends. Raises ClassNotFound, ClassError."""
        found = self.teach(uid)
        if found.closed_at is not None:
            raise ClassError(f"{found.name} is closed. Open it again before you hand out a code.")
        now = self.clock()
        return self.store.transact(
            lambda store: store.classes.add_code(found.id, self._code(), now, now + lasts)
        )

    def end_code(self, uid: str) -> None:
        """End the join code of a class, so that nobody joins. Raises ClassNotFound."""
        self.store.classes.end_codes(self.teach(uid).id, self.clock())

    def join(self, code: str) -> ClassRecord:
        """Join the class of a code as a learner. Raises ClassError."""
        now = self.clock()
        return self.store.transact(lambda store: join_class(store, self.account, code, now))

    def leave(self, uid: str) -> None:
        """Leave a class; what was handed in stays there. Raises ClassNotFound, ClassError."""
        self._take_out(self.attend(uid), self.account.id)

    def members(self, uid: str) -> tuple[Member, ...]:
        """Everybody in a class that the account teaches, by name. Raises ClassNotFound."""
        members = self.store.classes.members(self.teach(uid).id)
        return tuple(each for each in members if each.left_at is None)

    def take_out(self, uid: str, account_uid: str) -> None:
        """Take somebody out of a class; what they handed in stays. Raises ClassNotFound,
        ClassError."""
        found = self.teach(uid)
        member = next((each for each in self.members(uid) if each.uid == account_uid), None)
        if member is None:
            raise ClassError("There is nobody like that in this class.")
        self._take_out(found, member.account_id)

    def add_teacher(self, uid: str, sign_in: str) -> Member:
        """Let somebody who teaches on this server teach a class as well. Raises ClassNotFound,
        ClassError."""
        found = self.teach(uid)
        account = self.store.accounts.by_sign_in(sign_in)
        if account is None or account.role.value == LEARNER:
            raise ClassError(f"{sign_in} isn't the sign-in name of a teacher on this server.")

        def work(store: Repositories) -> Member:
            self._log(store, "teacher added", found, after={"account": account.uid})
            return store.classes.join(found.id, account.id, TEACHER, self.clock())

        return self.store.transact(work)

    def _take_out(self, found: ClassRecord, account_id: int) -> None:
        members = self.store.classes.members(found.id)
        teachers = [each for each in members if each.is_teacher]
        if [each.account_id for each in teachers] == [account_id]:
            raise ClassError(
                f"{found.name} has no other teacher. Add one first, or close the class."
            )
        self.store.classes.leave(found.id, account_id, self.clock())

    def _in(self, uid: str, roles: tuple[str, ...]) -> ClassRecord:
        found = self.store.classes.find(uid)
        member = self.store.classes.member(found.id, self.account.id) if found is not None else None
        if found is None or member is None or member.left_at or member.role not in roles:
            raise ClassNotFound(NO_CLASS)
        return found

    def _log(
        self,
        store: Repositories,
        what: str,
        about: ClassRecord,
        before: dict[str, str] | None = None,
        after: dict[str, str] | None = None,
    ) -> None:
        store.audit_log.add(
            what,
            f"class {about.uid}",
            at=self.clock(),
            who=self.account.uid,
            before=before,
            after=after,
        )


def _clean(text: str, what: str, most: int, least: int = 1) -> str:
    cleaned = " ".join(storable(text).split())
    if not least <= len(cleaned) <= most:
        raise ClassError(f"The {what} of a class needs {least} to {most} characters.")
    return cleaned
