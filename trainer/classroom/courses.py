"""The courses of learning platforms: who launches the trainer from a course is in its class.

A course (LTI's "context") has one class. The class is made when a teacher first launches from the
course. Somebody who teaches the course becomes a teacher of that class, and of no other; somebody
who learns there becomes a learner of it. A teacher of the course also gets a teacher's account,
which lets them make classes of their own.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from trainer.classroom.classes import LEARNER, LONGEST_NAME, TEACHER, Classes
from trainer.classroom.identities import Ticket, Vouched, VouchedPeople
from trainer.errors import SignInElsewhereFailed
from trainer.store import Account, Assignment, ClassRecord

if TYPE_CHECKING:
    from trainer.classroom.accounts import Accounts
    from trainer.store import Member, Repositories

__all__ = ["Courses", "Entered", "Launch"]

NOT_OPENED = (
    "Your teacher hasn't opened the trainer in this course yet. Ask them to open it there once."
)


@dataclass(frozen=True, slots=True)
class Launch:
    """Somebody who comes from a course of a platform, as far as it concerns the class.

    `context` is the platform's id of the course and `course` its title. `assignment_uid` is what
    the link was made for, "" for no assignment. `line_item` is the address of the platform's column
    for its scores, "" for none.
    """

    person: Vouched
    client_id: str
    deployment: str
    context: str
    course: str
    is_teacher: bool
    assignment_uid: str = ""
    line_item: str = ""


@dataclass(frozen=True, slots=True)
class Entered:
    """Where a launch led; `assignment` is None if the link was made for none of the class."""

    account: Account
    school_class: ClassRecord
    assignment: Assignment | None


class Courses:
    """The courses of a server.

    Parameters
    ----------
    clock : gives the moment, aware and in UTC.
    accounts : makes new accounts.
    """

    def __init__(
        self, store: Repositories, clock: Callable[[], datetime], accounts: Accounts
    ) -> None:
        self._store, self._clock, self._accounts = store, clock, accounts

    def enter(self, launch: Launch, ticket: Ticket) -> Entered:
        """Let somebody into the class of their course; account, class and membership are made
        together, or not at all.

        Raises
        ------
        SignInElsewhereFailed
            If the ticket was used, the account is switched off, or a learner's course has no class.
        """

        def work(within: Repositories) -> Entered:
            people = VouchedPeople(within, self._clock, self._accounts)
            account = people.account_of(launch.person, ticket)
            found = self._class_of(within, launch, account)
            self._join(within, launch, account, found)
            assignment = within.assignments.find(launch.assignment_uid)
            if assignment is None or assignment.class_id != found.id:
                return Entered(account, found, None)
            if launch.line_item:
                within.lti.add_line_item(
                    launch.person.issuer,
                    launch.client_id,
                    launch.line_item,
                    assignment.id,
                    self._clock(),
                )
            return Entered(account, found, assignment)

        return self._store.transact(work)

    def _class_of(self, within: Repositories, launch: Launch, account: Account) -> ClassRecord:
        course = (launch.person.issuer, launch.deployment, launch.context)
        class_id = within.lti.class_of(*course)
        if class_id is not None:
            found = within.classes.get(class_id)
            assert found is not None
            return found
        if not launch.is_teacher:
            raise SignInElsewhereFailed(NOT_OPENED)
        name = " ".join(launch.course.split())[:LONGEST_NAME].strip() or "Course"
        made = Classes(within, account, self._clock).make(name, "")
        within.lti.add_course(*course, made.id, self._clock())
        return made

    def _join(
        self, within: Repositories, launch: Launch, account: Account, found: ClassRecord
    ) -> None:
        role = TEACHER if launch.is_teacher else LEARNER
        member = within.classes.member(found.id, account.id)
        is_here = member is not None and member.left_at is None
        if is_here and member is not None and member.role == role:
            return
        if found.closed_at is not None and not is_here:
            raise SignInElsewhereFailed(f"{found.name} is closed, so nobody can join it any more.")
        if is_here and role == LEARNER and _is_only_teacher(within, found, account):
            return
        within.classes.join(found.id, account.id, role, self._clock())
        within.audit_log.add(
            "member by a course",
            f"class {found.uid}",
            at=self._clock(),
            who=account.uid,
            before={"role": member.role} if is_here and member is not None else None,
            after={"role": role, "issuer": launch.person.issuer},
        )


def _is_only_teacher(within: Repositories, found: ClassRecord, account: Account) -> bool:
    members: tuple[Member, ...] = within.classes.members(found.id)
    teachers = [each.account_id for each in members if each.is_teacher]
    return teachers == [account.id]
