"""People whom a school's systems vouch for, their courses and scores, on both databases."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.classroom.lockside import Lockside, missing_bar
from tests.classroom.people import School
from trainer.classroom import Courses, Launch, Ticket, Vouched, VouchedPeople
from trainer.classroom.passback import BROKEN, Passback, Score
from trainer.errors import AccountError, ScoreNotTaken, SignInElsewhereFailed, StoreConflict
from trainer.store import Role, Waiting

ISSUER = "https://learn.weir.example"


def vouched(subject: str = "W-1", **changed: object) -> Vouched:
    """Somebody whom the platform vouches for."""
    usual = Vouched(ISSUER, subject, "Weir Learning", "wren", "Wren H.", Role.LEARNER)
    return replace(usual, **changed)  # type: ignore[arg-type]  # fields by name


def launch(subject: str = "T-1", *, teaches: bool = True, **changed: object) -> Launch:
    """Somebody who comes from the course."""
    role = Role.TEACHER if teaches else Role.LEARNER
    person = vouched(subject, new_role=role, is_teacher=teaches)
    usual = Launch(person, "trainer-17", "1", "choir", "Choir", teaches)
    return replace(usual, **changed)  # type: ignore[arg-type]  # fields by name


class Door:
    """Lets people in; every sign-in has a ticket of its own."""

    def __init__(self, school: School) -> None:
        self.school, self.count = school, 0

    @property
    def people(self) -> VouchedPeople:
        """Those who sign in by a school's system."""
        return VouchedPeople(self.school.store, self.school.clock, self.school.accounts)

    @property
    def courses(self) -> Courses:
        """The courses of the platform."""
        return Courses(self.school.store, self.school.clock, self.school.accounts)

    def ticket(self) -> Ticket:
        """The next ticket."""
        self.count += 1
        return Ticket(f"{self.count:064}", self.school.clock() + timedelta(minutes=20))


def test_an_account_is_made_once(school: School) -> None:
    """The same identity has the same account; another one gets another sign-in name."""
    door = Door(school)
    first = door.people.account_of(vouched(), door.ticket())
    again = door.people.account_of(vouched(shown_name="Another"), door.ticket())
    other = door.people.account_of(vouched("W-2"), door.ticket())
    assert (again.id, again.shown_name) == (first.id, "Wren H.")
    assert other.id != first.id
    assert other.sign_in.startswith("wren-")
    (identity,) = school.store.identities.of(first)
    assert (identity.issuer, identity.subject) == (ISSUER, "W-1")


def test_a_ticket_works_once_and_is_forgotten(school: School) -> None:
    """A ticket that was used is refused until it has expired, and then is no longer kept."""
    door, ticket = Door(school), Door(school).ticket()
    door.people.account_of(vouched(), ticket)
    with pytest.raises(SignInElsewhereFailed, match="used already"):
        door.people.account_of(vouched(), ticket)
    school.clock.passes(hours=1)
    now = school.clock()
    assert school.store.used_once.use(ticket.digest, now, now + timedelta(hours=1))


def test_an_identity_is_added_once(school: School) -> None:
    """Two accounts that are connected with one identity at the same time: one of them is refused
    by the database itself."""
    wren, zoe = school.sign_up("wren"), school.sign_up("zoe")
    school.store.identities.add(wren, ISSUER, "W-1", school.clock())
    with pytest.raises(StoreConflict):
        school.store.identities.add(zoe, ISSUER, "W-1", school.clock())
    door = Door(school)
    with pytest.raises(SignInElsewhereFailed, match="Somebody else"):
        door.people.connect(zoe, vouched(), door.ticket())


def test_an_identity_goes_with_its_account(school: School) -> None:
    """Disconnecting removes it, deleting the account does, and the only way in stays."""
    door = Door(school)
    wren = school.sign_up("wren")
    door.people.connect(wren, vouched(), door.ticket())
    (identity,) = school.store.identities.of(wren)
    assert door.people.disconnect(wren, identity.id) == identity
    assert door.people.disconnect(wren, identity.id) is None
    made = door.people.account_of(vouched("W-2"), door.ticket())
    with pytest.raises(AccountError, match="no password"):
        door.people.disconnect(made, school.store.identities.of(made)[0].id)
    school.accounts.delete(made, None)
    assert school.store.identities.account_of(ISSUER, "W-2") is None


def test_a_course_has_one_class(school: School) -> None:
    """The first teacher makes it, others join; a refused launch leaves nothing behind."""
    door = Door(school)
    with pytest.raises(SignInElsewhereFailed, match="hasn't opened"):
        door.courses.enter(launch("W-1", teaches=False), door.ticket())
    assert school.store.accounts.count() == 0
    first = door.courses.enter(launch(), door.ticket())
    second = door.courses.enter(launch("W-1", teaches=False), door.ticket())
    assert first.school_class == second.school_class
    other = door.courses.enter(launch("T-2", context="band"), door.ticket())
    assert other.school_class.id != first.school_class.id
    with pytest.raises(StoreConflict):
        school.store.lti.add_course(ISSUER, "1", "band", first.school_class.id, school.clock())


def with_line_item(lockside: Lockside) -> tuple[list[Score], Passback, int]:
    """A class whose assignment's scores a platform takes: what it got, what sends, and the number
    of the assignment; Wren has handed in all but a bar."""
    store, clock = lockside.store, lockside.school.clock
    assignment, (item,) = lockside.assign()
    wren, _ = lockside.pupils
    store.identities.add(wren, ISSUER, "W-1", clock())
    lockside.write(wren, item, missing_bar(item.exercise.chart))
    store.lti.add_line_item(ISSUER, "trainer-17", f"{ISSUER}/items/1", assignment.id, clock())
    taken: list[Score] = []
    return taken, Passback(store, clock, taken.append), assignment.id


def test_a_score_is_sent_once_until_it_changes(lockside: Lockside) -> None:
    """What is due is what the gradebook says; after an override it is due again."""
    taken, passback, assignment_id = with_line_item(lockside)
    assert (passback.run(), passback.run()) == (1, 0)
    assert taken[0].due.subject == "W-1"
    assert 0 < taken[0].value < 1
    attempt = lockside.store.assigned.attempts_of([1], lockside.pupils[0].id)[0]
    lockside.regrading.override(attempt.attempt_id, 0, 1.0, "Fine.")
    assert passback.run() == 1
    assert (taken[1].value, taken[1].is_complete) == (1.0, True)
    assert lockside.store.lti.waiting(assignment_id) == Waiting(1, 0, None)


def test_a_score_that_was_not_taken_is_tried_again(lockside: Lockside) -> None:
    """The try, its problem and the next one are in the store."""
    taken, passback, assignment_id = with_line_item(lockside)

    def refuse(_: Score) -> None:
        raise ScoreNotTaken("Weir Learning answered 503.")

    store, clock = lockside.store, lockside.school.clock
    assert Passback(store, clock, refuse).run() == 0
    assert store.lti.waiting(assignment_id) == Waiting(0, 1, "Weir Learning answered 503.")
    assert passback.run() == 0
    clock.passes(minutes=1)
    assert passback.run() == 1
    assert len(taken) == 1


def test_a_claim_is_ones_own(lockside: Lockside) -> None:
    """A score that one server takes is no other's, and a change of meanwhile is not marked as
    sent."""
    _, passback, assignment_id = with_line_item(lockside)
    store, now = lockside.store, lockside.school.clock()
    (due,) = store.lti.due(now, 9)
    claimed = store.lti.claim(due, now + timedelta(minutes=5))
    assert claimed is not None
    assert store.lti.claim(due, now + timedelta(minutes=5)) is None
    attempt = store.assigned.attempts_of([1], lockside.pupils[0].id)[0]
    lockside.regrading.override(attempt.attempt_id, 0, 1.0, "Fine.")
    store.lti.sent(claimed, 0.5, now)
    assert store.lti.waiting(assignment_id) == Waiting(0, 1, None)
    assert passback.run() == 1


def both_hand_in(lockside: Lockside) -> int:
    """Both learners of a class have handed in, and a platform that knows both takes the scores: the
    number of the assignment."""
    store, clock = lockside.store, lockside.school.clock
    assignment, (item,) = lockside.assign()
    for number, pupil in enumerate(lockside.pupils):
        store.identities.add(pupil, ISSUER, f"W-{number}", clock())
        lockside.write(pupil, item, missing_bar(item.exercise.chart))
    store.lti.add_line_item(ISSUER, "trainer-17", f"{ISSUER}/items/1", assignment.id, clock())
    return assignment.id


def test_one_score_that_breaks_keeps_back_no_other(
    lockside: Lockside, caplog: pytest.LogCaptureFixture
) -> None:
    """Whatever goes wrong with a score is logged, and that score is tried again later."""
    assignment_id = both_hand_in(lockside)
    taken: list[str] = []

    def send(score: Score) -> None:
        if not taken and "broken" not in caplog.text:
            raise OverflowError("broken")
        taken.append(score.due.subject)

    store, clock = lockside.store, lockside.school.clock
    passback = Passback(store, clock, send)
    assert passback.run() == 1
    assert store.lti.waiting(assignment_id) == Waiting(1, 1, BROKEN)
    clock.passes(minutes=1)
    assert passback.run() == 1
    assert sorted(taken) == ["W-0", "W-1"]


def test_a_run_ends_between_two_scores(lockside: Lockside) -> None:
    """Once it is stopped, no other score is begun."""
    both_hand_in(lockside)
    taken: list[Score] = []
    passback = Passback(lockside.store, lockside.school.clock, taken.append)
    assert passback.run(lambda: bool(taken)) == 1
    assert passback.run() == 1


def test_who_left_the_platform_is_not_waited_for(lockside: Lockside) -> None:
    """A score that can never be sent, because the platform does not know the learner, is not
    counted as waiting."""
    store, clock = lockside.store, lockside.school.clock
    assignment, (item,) = lockside.assign()
    wren, other = lockside.pupils
    store.identities.add(wren, ISSUER, "W-1", clock())
    for pupil in (wren, other):
        lockside.write(pupil, item, missing_bar(item.exercise.chart))
    store.lti.add_line_item(ISSUER, "trainer-17", f"{ISSUER}/items/1", assignment.id, clock())
    assert store.lti.waiting(assignment.id) == Waiting(0, 1, None)


def test_hidden_results_are_not_due(lockside: Lockside) -> None:
    """Scores that learners may not see yet take no place among those that are to be sent."""
    store, clock = lockside.store, lockside.school.clock
    hidden, (item,) = lockside.assign(results="closed")
    wren, _ = lockside.pupils
    store.identities.add(wren, ISSUER, "W-1", clock())
    lockside.write(wren, item, missing_bar(item.exercise.chart))
    store.lti.add_line_item(ISSUER, "trainer-17", f"{ISSUER}/items/1", hidden.id, clock())
    assert store.lti.due(clock(), 1) == ()
    assert store.lti.waiting(hidden.id) == Waiting(0, 1, None)
    clock.passes(minutes=7 * 24 * 60)
    assert hidden.shows_results(clock())
    assert len(store.lti.due(clock(), 1)) == 1


def test_a_second_assignment_of_a_line_item_leaves_the_first_alone(lockside: Lockside) -> None:
    """Where two assignments have one line item, the scores of the first are not sent again."""
    _, passback, _ = with_line_item(lockside)
    assert passback.run() == 1
    second, _ = lockside.assign()
    store, clock = lockside.store, lockside.school.clock
    store.lti.add_line_item(ISSUER, "trainer-17", f"{ISSUER}/items/1", second.id, clock())
    assert store.lti.due(clock(), 9) == ()
