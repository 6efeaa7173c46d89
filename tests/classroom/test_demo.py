"""The demo class: what it has to show, the same every time, and never over somebody's record."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest

from tests.classroom.people import School
from tests.databases import put_store
from tests.patience import PATIENCE_S
from tests.store.samples import NOW
from trainer.chart import parse
from trainer.classroom.assignments import Assignments
from trainer.classroom.demo import LEARNERS, DemoClass, make_demo_class, new_password
from trainer.classroom.demo_answers import from_another_home
from trainer.classroom.gradebook import Gradebook, GradeTable
from trainer.classroom.handing_out import ClassWork
from trainer.classroom.passwords import check_password
from trainer.drill import Drills
from trainer.errors import SettingsError
from trainer.store import Account, Learner, Store


def _made(school: School) -> DemoClass:
    turn = count()
    return make_demo_class(
        school.store, school.clock, school.passwords, lambda: f"heron ferry weir {next(turn)}"
    )


@pytest.fixture(scope="module")
def demo(
    tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path
) -> Iterator[tuple[School, DemoClass]]:
    """A school with the demo class in it, for tests that only look."""
    folder = put_store(sqlite_template, tmp_path_factory.mktemp("demo") / "record")
    with Store(folder, wait_s=PATIENCE_S) as store:
        school = School(store)
        yield school, _made(school)


def _learner(school: School, account: Account) -> Learner:
    learner = school.store.learners.by_id(account.learner_id)
    assert learner is not None
    return learner


def _table(school: School, made: DemoClass, uid: str) -> GradeTable:
    teacher = made.teacher.account
    return Gradebook(school.store, teacher, _learner(school, teacher), school.clock).table(uid)


def test_there_is_something_to_look_at(school: School) -> None:
    """One assignment is over with all answers in and a bar changed, one is open with some in, one
    has not opened; each learner can sign in with the password that was given out."""
    made = _made(school)
    finished = _table(school, made, made.finished.uid)
    assert made.finished.has_ended(NOW)
    assert [row.done for row in finished.rows] == [3] * len(LEARNERS)
    scores = [row.score for row in finished.rows]
    assert min(scores) < 0.75
    assert max(scores) == 1
    assert sum(cell.is_changed for row in finished.rows for cell in row.cells) == 1
    assert all(each.p and each.discrimination for each in finished.statistics)
    assert made.open.has_opened(NOW)
    assert not made.open.has_ended(NOW)
    done = [row.done for row in _table(school, made, made.open.uid).rows]
    assert (done.count(2), done.count(1), done.count(0)) == (3, 4, 5)
    assert not made.to_come.has_opened(NOW)
    for person in (made.teacher, *made.learners):
        assert school.passwords.matches(person.account.password_hash, person.password)


def test_the_override_raises_a_grade(demo: tuple[School, DemoClass]) -> None:
    """The teacher has given credit for a bar that was missed, so that the score is above the
    grader's."""
    school, made = demo
    rows = _table(school, made, made.finished.uid).rows
    (changed,) = [cell for row in rows for cell in row.cells if cell.is_changed]
    assert changed.counting is not None
    assert changed.counting.grade.score > changed.counting.grade.graded


def test_a_learner_has_work_to_do(demo: tuple[School, DemoClass]) -> None:
    """A learner sees what is over with its result and what is due, and not what is to come."""
    school, made = demo
    ines = next(each.account for each in made.learners if each.account.sign_in == "ines")
    drills = Drills(school.store, _learner(school, ines), school.clock)
    due = {each.assignment.uid: each for each in ClassWork(ines, drills).all()}
    assert set(due) == {made.finished.uid, made.open.uid}
    assert due[made.finished.uid].shows_results
    assert due[made.open.uid].items[0].is_begun


def test_home_is_the_4() -> None:
    """A 1 is written as 5 and a 4 as 1, in slash basses too."""
    chart = parse("key: C\n\nVerse 1:\n1 4 5/7 6-\n")
    assert from_another_home(chart).splitlines()[-1] == "5 1 (2/4) 3-"


def test_it_is_the_same_every_time(demo: tuple[School, DemoClass], small_school: School) -> None:
    """Two records get the same songs, answers and scores."""
    tables = []
    for school, made in (demo, (small_school, _made(small_school))):
        teacher = made.teacher.account
        work = Assignments(school.store, teacher, _learner(school, teacher), school.clock)
        songs = [
            [item.exercise.chart for item in work.items(each)]
            for each in (made.finished, made.open, made.to_come)
        ]
        scores = [
            [row.score for row in _table(school, made, each.uid).rows]
            for each in (made.finished, made.open)
        ]
        tables.append((songs, scores))
    assert tables[0] == tables[1]


def test_a_record_with_people_is_left_alone(small_school: School) -> None:
    """Neither a class's record nor one of somebody at home is changed."""
    small_school.store.learners.add("me", NOW)
    with pytest.raises(SettingsError, match="people in it already"):
        _made(small_school)
    assert small_school.store.accounts.all() == ()


def test_passwords_are_random() -> None:
    """No two passwords are the same, and each may be chosen by the rules for all."""
    drawn = {new_password() for _ in range(50)}
    assert len(drawn) == 50
    for each in drawn:
        check_password(each)
