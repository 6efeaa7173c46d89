from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.store.samples import NOW, exercise, hand_in, new_assignment, new_item
from trainer.drill import rating_state
from trainer.errors import StoreError
from trainer.store import (
    FILE_NAME,
    AcceptedChart,
    Account,
    Assigned,
    Assignment,
    AttemptGrade,
    AttemptRecord,
    ClassRecord,
    ItemWithSong,
    Learner,
    NewAccount,
    Override,
    Role,
    Store,
)

DUMP = Path(__file__).parent / "data" / "v12.sql"
LATER = NOW + timedelta(days=3)


def account_of(store: Store, name: str, role: Role = Role.LEARNER) -> Account:
    """A new account with a learner of that name."""
    learner = store.learners.add(name, NOW)
    return store.accounts.add(learner, NewAccount(name.casefold(), name, role), NOW)


@pytest.fixture
def teacher(fresh_store: Store) -> Account:
    """An account of a teacher."""
    return account_of(fresh_store, "Ada", Role.TEACHER)


@pytest.fixture
def pupil(fresh_store: Store) -> Account:
    """An account of a learner who is in no class."""
    return account_of(fresh_store, "Wren")


@pytest.fixture
def band(fresh_store: Store, teacher: Account) -> ClassRecord:
    """The teacher's class."""
    return fresh_store.classes.add(teacher.id, "Lock-side band", "Spring", NOW)


@pytest.fixture
def assignment(fresh_store: Store, band: ClassRecord, teacher: Account) -> Assignment:
    """An assignment of the class with two items."""
    made = new_assignment(band.id, teacher.id)
    return fresh_store.assignments.add(made, [new_item(1), new_item(2)])


@pytest.fixture
def first(fresh_store: Store, assignment: Assignment) -> ItemWithSong:
    """Its first item."""
    return fresh_store.assignments.items_with_songs(assignment)[0]


def learner_of(store: Store, account: Account) -> Learner:
    """The learner of an account."""
    return next(each for each in store.learners.all() if each.id == account.learner_id)


def give(store: Store, item: ItemWithSong, account: Account, number: int = 1) -> Assigned:
    """Hand the item's exercise out as a try of that number."""
    key = f"{item.uid}-{account.id}-{number}"
    handed = replace(item.exercise, id=key)
    kept = store.exercises.keep(learner_of(store, account), handed)
    return store.assigned.hand_out(item.id, account.id, number, kept, NOW)


def answer(store: Store, given: Assigned, account: Account, **changes: Any) -> AttemptRecord:
    """Hand in the sample's answer to what was given."""
    learner = learner_of(store, account)
    kept = store.exercises.get(learner, given.key)
    assert kept is not None
    with store.transaction() as within:
        record = hand_in(within, learner, kept, token=given.key, **changes)
        grade = AttemptGrade(record.score, record.score)
        within.assigned.add_attempt(given, record.id, grade, NOW, late=False, counts=True)
    return record


def test_who_makes_a_class_teaches_it(
    fresh_store: Store, band: ClassRecord, teacher: Account
) -> None:
    """A new class has its maker as its teacher and nobody else."""
    (member,) = fresh_store.classes.members(band.id)
    assert (member.account_id, member.shown_name, member.is_teacher) == (teacher.id, "Ada", True)
    assert fresh_store.classes.of_account(teacher.id) == ((band, "teacher"),)
    assert fresh_store.classes.find(band.uid) == band
    assert fresh_store.classes.counts([band.id]) == {band.id: 0}


def test_a_member_who_left_may_come_back(
    fresh_store: Store, band: ClassRecord, pupil: Account
) -> None:
    """Leaving keeps the membership on record, and joining again keeps the first moment."""
    classes = fresh_store.classes
    joined = classes.join(band.id, pupil.id, "learner", NOW)
    classes.leave(band.id, pupil.id, LATER)
    assert classes.of_account(pupil.id) == ()
    left = classes.member(band.id, pupil.id)
    assert left is not None
    assert left.left_at == LATER
    assert classes.join(band.id, pupil.id, "learner", LATER) == joined
    assert classes.counts([band.id]) == {band.id: 1}


def test_a_new_code_ends_the_one_before(fresh_store: Store, band: ClassRecord) -> None:
    """A class has one join code that holds, until its end."""
    old = fresh_store.classes.add_code(band.id, "AAAA", NOW, LATER)
    new = fresh_store.classes.add_code(band.id, "BBBB", NOW, LATER)
    assert old.holds(NOW)
    ended = fresh_store.classes.find_code("AAAA")
    assert ended is not None
    assert not ended.holds(NOW)
    assert fresh_store.classes.code_of(band.id) == new
    assert not new.holds(LATER)
    assert fresh_store.classes.find_code("CCCC") is None


def test_an_assignment_comes_back_as_it_was_stored(
    fresh_store: Store, assignment: Assignment, band: ClassRecord
) -> None:
    """Assignments and items keep every value, and what is changed is what is read."""
    assert fresh_store.assignments.find(assignment.uid) == assignment
    items = fresh_store.assignments.items_with_songs(assignment)
    for number, item in enumerate(items, 1):
        wanted = replace(new_item(number), id=item.id, uid=item.uid, assignment_id=assignment.id)
        assert item == wanted
    changed = fresh_store.assignments.change(
        assignment, scheme={"scheme": "strict", "root": 2.0}, closes_at=None
    )
    assert fresh_store.assignments.of_class(band.id) == (changed,)
    with pytest.raises(ValueError, match="expected some of"):
        fresh_store.assignments.change(assignment, uid="another")


def test_items_are_set_in_their_order(fresh_store: Store, assignment: Assignment) -> None:
    """Items that stay keep their numbers; others go, and new ones come where they are put."""
    assignments = fresh_store.assignments
    one, two = assignments.items_with_songs(assignment)
    new = new_item(3)
    assignments.set_items(assignment, [replace(two, position=1), replace(new, position=2)])
    found = assignments.items_with_songs(assignment)
    assert [each.position for each in found] == [1, 2]
    assert found[0] == replace(two, position=1)
    assert found[1].exercise == new.exercise
    assert assignments.item(one.uid) is None


def test_only_what_has_opened_is_open_to_a_learner(
    fresh_store: Store, band: ClassRecord, assignment: Assignment, pupil: Account
) -> None:
    """A learner's assignments are those of their classes that have opened, first due first."""
    sooner = new_assignment(band.id, closes_at=NOW + timedelta(days=1))
    sooner = fresh_store.assignments.add(sooner)
    fresh_store.assignments.add(new_assignment(band.id, opens_at=LATER))
    fresh_store.assignments.add(new_assignment(band.id, opens_at=None))
    assert fresh_store.assignments.open_to(pupil.id, NOW) == ()
    fresh_store.classes.join(band.id, pupil.id, "learner", NOW)
    assert fresh_store.assignments.open_to(pupil.id, NOW) == (sooner, assignment)
    fresh_store.classes.leave(band.id, pupil.id, NOW)
    assert fresh_store.assignments.open_to(pupil.id, NOW) == ()


def test_a_try_is_handed_out_once(fresh_store: Store, first: ItemWithSong, pupil: Account) -> None:
    """An account has one exercise for each try at an item, and each exercise knows its place."""
    given = give(fresh_store, first, pupil)
    kept = fresh_store.exercises.get(learner_of(fresh_store, pupil), given.key)
    assert kept is not None
    assert fresh_store.assigned.of_exercise(kept) == given
    assert fresh_store.assigned.of_account(pupil.id, [first.id]) == (given,)
    assert fresh_store.assigned.songs_of(first.id) == {kept.song}
    with pytest.raises(StoreError, match="nothing was stored"):
        fresh_store.assigned.hand_out(first.id, pupil.id, 1, kept, NOW)


def test_attempts_come_back_in_their_place(
    fresh_store: Store, first: ItemWithSong, pupil: Account
) -> None:
    """An attempt is found with its try, its grade, its text and the report that holds."""
    record = answer(fresh_store, give(fresh_store, first, pupil), pupil)
    (found,) = fresh_store.assigned.attempts_of([first.id])
    assert (found.attempt_id, found.account_id, found.number) == (record.id, pupil.id, 1)
    assert (found.grade.score, found.listens, found.counts) == (record.score, 1, True)
    (graded,) = fresh_store.assigned.answers_to([first.id], found.song)
    assert graded.text == "1 1 6- 2-"
    assert graded.report["score"] == record.score
    detail = fresh_store.attempts.get(record.id)
    assert detail is not None
    again = replace(found.grade, report=dict(detail.report) | {"score": 0.5}, score=0.5)
    fresh_store.class_grades.replace(record.id, found.grade, again, "scheme", LATER)
    (graded,) = fresh_store.assigned.answers_to([first.id])
    assert graded.report["score"] == 0.5
    (before,) = fresh_store.class_grades.earlier(record.id)
    assert (before.grade, before.until, before.reason) == (found.grade, LATER, "scheme")
    exercises = fresh_store.assigned.exercises_of([first.id])
    assert [each["chart"]["title"] for each in exercises.values()] == [first.exercise.chart.title]


def test_one_override_stands_for_a_bar(
    fresh_store: Store, first: ItemWithSong, pupil: Account, teacher: Account
) -> None:
    """A later override of a bar takes the place of the one before and can be taken back."""
    record = answer(fresh_store, give(fresh_store, first, pupil), pupil)
    grades = fresh_store.class_grades
    said = Override(record.id, 2, None, "Listen to the bass.", teacher.id, NOW)
    grades.set_override(said)
    better = replace(said, credit=1.0)
    grades.set_override(better)
    assert grades.overrides(record.id) == (better,)
    assert grades.overrides_of([first.id]) == {record.id: (better,)}
    grades.clear_override(record.id, 2)
    assert grades.overrides(record.id) == ()


def test_an_accepted_chart_is_there_until_withdrawn(
    fresh_store: Store, first: ItemWithSong, teacher: Account
) -> None:
    """A second right chart belongs to one song of an item."""
    made = AcceptedChart(0, first.id, "0" * 64, "1 4 5 1", "Also right.", teacher.id, NOW)
    kept = fresh_store.class_grades.accept(made)
    assert fresh_store.class_grades.accepted([first.id]) == (kept,)
    fresh_store.class_grades.withdraw(kept, LATER)
    assert fresh_store.class_grades.accepted([first.id]) == ()


def test_a_hidden_result_counts_for_nothing_until_it_is_shown(
    fresh_store: Store, first: ItemWithSong, pupil: Account
) -> None:
    """A hidden attempt is in no ratings, level, export or seen song until its moment has come."""
    learner = learner_of(fresh_store, pupil)
    given = give(fresh_store, first, pupil)
    record = answer(fresh_store, given, pupil, hidden_until=LATER)
    attempts = fresh_store.attempts
    assert record.is_hidden(NOW)
    assert not record.is_hidden(LATER)
    assert not attempts.has_seen(learner, given.song, NOW)
    assert attempts.has_seen(learner, given.song, LATER)
    assert attempts.best_by_level(learner) == {}
    assert list(attempts.log(learner)) == []
    assert fresh_store.transfer.export_json(learner)["attempts"] == []
    assert len(list(fresh_store.transfer.csv_rows(learner))) == 1
    assert attempts.hidden(learner, due=NOW) == ()
    fresh_store.assigned.hide([first.id], NOW)
    assert attempts.hidden(learner, due=NOW) == (record.id,)
    assert attempts.release_due(learner, NOW) == 1
    assert attempts.release_due(learner, NOW) == 0
    assert len(list(attempts.log(learner))) == 1
    assert fresh_store.transfer.export_json(learner)["attempts"] != []


def test_what_goes_with_a_learner_and_with_a_class(
    fresh_store: Store, first: ItemWithSong, pupil: Account, teacher: Account
) -> None:
    """Deleting a learner takes their work out of the class; deleting the assignment leaves the
    learner's own attempts."""
    record = answer(fresh_store, give(fresh_store, first, pupil), pupil)
    other = account_of(fresh_store, "Zoë")
    kept = answer(fresh_store, give(fresh_store, first, other), other)
    fresh_store.learners.delete(learner_of(fresh_store, pupil))
    assert fresh_store.attempts.get(record.id) is None
    assert [each.account_id for each in fresh_store.assigned.attempts_of([first.id])] == [other.id]
    fresh_store.learners.delete(learner_of(fresh_store, teacher))
    assignment = fresh_store.assignments.get(first.assignment_id)
    assert assignment is not None
    assert assignment.made_by is None
    fresh_store.assignments.delete(assignment)
    assert fresh_store.assigned.attempt(kept.id) is None
    assert fresh_store.attempts.get(kept.id) is not None


def test_a_store_of_the_first_classes_has_all_of_them(folder: Path) -> None:
    """The dump of revision 0012 opens with its class, what was handed in and what was changed."""
    folder.mkdir()
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        connection.executescript(DUMP.read_text(encoding="utf-8"))
    with Store(folder) as store:
        wren, zoe = (store.accounts.of_learner(each) for each in store.learners.all())
        assert wren is not None
        assert zoe is not None
        ((band, role),) = store.classes.of_account(wren.id)
        assert (band.name, role) == ("Lock-side band", "teacher")
        (assignment,) = store.assignments.of_class(band.id)
        (item,) = store.assignments.items_with_songs(assignment)
        (attempt,) = store.assigned.attempts_of([item.id])
        assert (attempt.account_id, attempt.grade.score) == (zoe.id, 0.8)
        (override,) = store.class_grades.overrides(attempt.attempt_id)
        assert (override.bar, override.credit) == (2, 1.0)
        assert [each.grade.score for each in store.class_grades.earlier(attempt.attempt_id)] == [
            0.6
        ]
        assert [each.text for each in store.class_grades.accepted([item.id])] == ["1 1 6- 4"]
        assert rating_state(store, store.learners.all()[1]).attempts == 3


def test_the_sample_exercise_makes_another_song_for_each_number() -> None:
    """What the items of these tests hand out are different songs."""
    assert exercise(1).chart != exercise(2).chart
