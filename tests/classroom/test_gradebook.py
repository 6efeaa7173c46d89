from __future__ import annotations

import random
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event, text

from tests.classroom.lockside import (
    FIRST_LEVEL,
    Lockside,
    found,
    missing_bar,
    wrong_first_bar,
)
from tests.classroom.people import Clock, School
from tests.store.samples import NOW, new_assignment, new_item
from trainer.chart import format_chart
from trainer.classroom.class_sheet import LEFT_OUT
from trainer.classroom.gradebook import counted
from trainer.errors import ClassNotFound
from trainer.exercise import song_digest
from trainer.store import AssignedAttempt, AttemptGrade, Store


@contextmanager
def queries(store: Store) -> Iterator[list[str]]:
    """The statements that a store is asked meanwhile."""
    asked: list[str] = []

    def note(_: Any, __: Any, statement: str, *___: Any) -> None:
        if statement.startswith("SELECT"):
            asked.append(statement)

    engine = store._database.engine
    event.listen(engine, "before_cursor_execute", note)
    try:
        yield asked
    finally:
        event.remove(engine, "before_cursor_execute", note)


def attempt(number: int, score: float, *, counts: bool = True) -> AssignedAttempt:
    """An attempt with that score."""
    grade = AttemptGrade(score, score)
    return AssignedAttempt(
        number, 1, 1, number, "", NOW, False, counts, grade, 1, False, 1.0
    )  # fmt: skip


def test_the_attempt_that_counts() -> None:
    """Best, last or first of those that count; of equal ones the earlier."""
    tries = [attempt(3, 0.5), attempt(1, 0.7), attempt(2, 0.7), attempt(4, 1.0, counts=False)]
    found = [counted(tries, counts) for counts in ("best", "last", "first")]
    assert [each and each.number for each in found] == [1, 3, 1]
    assert counted([tries[3]], "best") is None


def test_a_row_has_every_item(lockside: Lockside) -> None:
    """The score of a learner is over all items by their points, with nothing for what is missing;
    what there is so far is shown beside it."""
    plans = [FIRST_LEVEL, replace(FIRST_LEVEL, points=3.0)]
    assignment, (one, two) = lockside.assign(plans, pass_mark=0.75)
    wren, zoe = lockside.pupils
    lockside.write(wren, two)
    lockside.write(zoe, one)
    table = lockside.gradebook.table(assignment.uid)
    rows = {row.member.account_id: row for row in table.rows}
    assert (rows[wren.id].score, rows[wren.id].so_far, rows[wren.id].passed) == (0.75, 1.0, True)
    assert (rows[zoe.id].score, rows[zoe.id].done, rows[zoe.id].passed) == (0.25, 1, False)
    assert table.mean == 0.5
    assert lockside.teacher.id not in rows


def test_who_left_keeps_a_row_with_what_they_did(lockside: Lockside) -> None:
    """A learner who left stands in the gradebook if they handed something in."""
    assignment, (item,) = lockside.assign()
    wren, zoe = lockside.pupils
    lockside.write(wren, item)
    for each in (wren, zoe):
        lockside.store.classes.leave(lockside.school_class.id, each.id, lockside.school.clock())
    rows = lockside.gradebook.table(assignment.uid).rows
    assert [row.member.account_id for row in rows] == [wren.id]


def test_practice_is_no_score(lockside: Lockside) -> None:
    """Work that does not count is shown as practice."""
    assignment, (item,) = lockside.assign()
    lockside.write(lockside.pupils[0], item, listens=0)
    (row, _) = lockside.gradebook.table(assignment.uid).rows
    assert row.cells[0].is_practice
    assert (row.score, row.so_far) == (0.0, None)


def test_another_teacher_sees_nothing(lockside: Lockside) -> None:
    """The gradebook of a class is for those who teach it."""
    assignment, _ = lockside.assign()
    lockside.teacher = lockside.school.sign_up("bram")
    with pytest.raises(ClassNotFound):
        lockside.gradebook.table(assignment.uid)


def test_the_class_bar_by_bar(lockside: Lockside) -> None:
    """Each bar of the song says who missed it and what they wrote instead."""
    _, (item,) = lockside.assign()
    wren, zoe = lockside.pupils
    lockside.write(wren, item)
    lockside.write(zoe, item, missing_bar(item.exercise.chart))
    sheet = lockside.sheets.sheet(item.uid)
    last = sheet.bars[-1]
    assert last.number == len(item.exercise.chart.bars())
    assert [(each.member.account_id, each.is_right) for each in last.written] == [
        (wren.id, True),
        (zoe.id, False),
    ]
    assert [(what, [m.account_id for m in who]) for what, who in last.instead] == [
        (LEFT_OUT, [zoe.id])
    ]
    assert sheet.bars[0].section == item.exercise.chart.sections[0].name
    assert sheet.bars[0].missed == ()
    assert [(each.song, each.answers) for each in sheet.songs] == [(song_digest(item.exercise), 2)]


def test_what_was_written_instead_is_counted(lockside: Lockside) -> None:
    """Wrong bars are put together by what was written, the most frequent first."""
    _, (item,) = lockside.assign()
    lockside.add_pupil("moss")
    for account, chord in zip(lockside.pupils, ("2-", "3-", "2-"), strict=True):
        lockside.write(account, item, wrong_first_bar(item.exercise.chart, chord))
    first = lockside.sheets.sheet(item.uid).bars[0]
    assert [(what, len(who)) for what, who in first.instead] == [("2-", 2), ("3-", 1)]


def test_skills_of_the_class(lockside: Lockside) -> None:
    """The table of skills has what the counted attempts show, the hardest first."""
    assignment, (item,) = lockside.assign()
    wren, zoe = lockside.pupils
    lockside.write(wren, item)
    lockside.write(zoe, item, missing_bar(item.exercise.chart))
    table = lockside.gradebook.skills(assignment.uid)
    assert "chord 1" in table.skills
    own = {member.account_id: cells for member, cells in table.rows}
    assert {cell.credit for cell in own[wren.id].values()} == {1.0}
    assert min(cell.credit for cell in own[zoe.id].values()) < 1
    for skill, cell in table.all.items():
        assert cell.bars == own[wren.id][skill].bars + own[zoe.id][skill].bars


def test_skills_after_a_restore(sqlite_location: Path, tmp_path: Path) -> None:
    """An attempt that is given the number of one that a restored backup lacks has its own sums."""
    with Store(sqlite_location) as store:
        lockside = found(School(store))
        assignment, (item,) = lockside.assign()
    backup = shutil.copytree(sqlite_location, tmp_path / "backup")
    shown = []
    for text_of in (missing_bar, format_chart):
        shutil.rmtree(sqlite_location)
        shutil.copytree(backup, sqlite_location)
        with Store(sqlite_location) as store:
            lockside.school = School(store, Clock(lockside.school.clock() + timedelta(hours=1)))
            done = lockside.write(lockside.pupils[0], item, text_of(item.exercise.chart))
            table = lockside.gradebook.skills(assignment.uid)
            shown.append((done.attempt.id, min(cell.credit for cell in table.all.values())))
    (first, worse), (second, whole) = shown
    assert first == second
    assert worse < whole == 1


def fill(lockside: Lockside, learners: int, items: int) -> str:
    """An assignment in which every learner has handed in every item, put straight into the tables;
    its uid."""
    rng = random.Random(7)
    store = lockside.store
    made = store.assignments.add(
        new_assignment(lockside.school_class.id, lockside.teacher.id, pass_mark=0.6),
        [new_item(number) for number in range(1, items + 1)],
    )
    numbers = [each.id for each in store.assignments.items_with_songs(made)]
    for number in range(learners - len(lockside.pupils)):
        lockside.add_pupil(f"pupil{number}")
    with store._database.writing() as connection:
        for pupil in lockside.pupils:
            for item_id in numbers:
                put(connection, pupil.id, pupil.learner_id, item_id, rng.random())
    return made.uid


MOMENT = "'2026-03-02 19:30:00.000000'"
ROWS = (
    """INSERT INTO exercises (key, owner_id, song, origin, title, data)
    VALUES ('x' || :item, :learner, 's' || :item, 'generated', 't', '{}')""",
    f"""INSERT INTO assigned (item_id, account_id, number, exercise_id, song, handed_at)
    SELECT :item, :account, 1, max(id), 's' || :item, {MOMENT} FROM exercises""",
    f"""INSERT INTO attempts (learner_id, exercise_id, started_at, finished_at, day, duration_s,
    score, bars, listens, paused, tempo_ratio, first_pass, app_version, seen)
    SELECT :learner, max(id), {MOMENT}, {MOMENT}, '2026-03-02', 1, :score, 4, 1, false, 1, false,
    '1', false FROM exercises""",
    f"""INSERT INTO assigned_attempts (attempt_id, assigned_id, handed_in_at, late, counts, graded,
    score) SELECT (SELECT max(id) FROM attempts), max(id), {MOMENT}, false, true, :score, :score
    FROM assigned""",
)


def put(connection: Any, account_id: int, learner_id: int, item_id: int, score: float) -> None:
    """One attempt as rows of the tables."""
    names = {"item": str(item_id), "account": account_id, "learner": learner_id, "score": score}
    for statement in ROWS:
        values = names | ({"item": item_id} if "assigned (" in statement else {})
        connection.execute(text(statement), values)


def test_a_big_class_is_read_in_few_queries(lockside: Lockside) -> None:
    """The gradebook of a class asks as many questions for 30 learners and 20 items as for two
    learners and one item."""
    small = fill(lockside, 2, 1)
    gradebook = lockside.gradebook
    with queries(lockside.store) as few:
        gradebook.table(small)
    big = fill(lockside, 30, 20)
    with queries(lockside.store) as many:
        table = gradebook.table(big)
    assert (len(table.rows), len(table.items)) == (30, 20)
    assert len(many) == len(few) <= 12


def test_sums_recomputed_from_the_rows(lockside: Lockside) -> None:
    """Every score, mean and count of the gradebook follows from the raw rows."""
    uid = fill(lockside, 12, 5)
    table = lockside.gradebook.table(uid)
    with lockside.store._database.reading() as connection:
        rows = connection.execute(
            text(
                "SELECT d.account_id, i.position, g.score FROM assigned_attempts g"
                " JOIN assigned d ON d.id = g.assigned_id"
                " JOIN assignment_items i ON i.id = d.item_id"
                " JOIN assignments a ON a.id = i.assignment_id WHERE a.uid = :uid"
            ),
            {"uid": uid},
        ).all()
    raw = {(account, position): score for account, position, score in rows}
    assert len(raw) == 60
    for row in table.rows:
        scores = [raw[row.member.account_id, position] for position in range(1, 6)]
        assert [cell.score for cell in row.cells] == scores
        assert row.score == pytest.approx(sum(scores) / 5)
        assert row.passed == (sum(scores) / 5 >= 0.6)
    for position, shown in enumerate(table.statistics, 1):
        scores = [score for (_, at), score in raw.items() if at == position]
        assert shown.mean == pytest.approx(sum(scores) / 12)
        assert shown.right == sum(score >= 0.6 for score in scores)
    assert table.mean == pytest.approx(sum(raw.values()) / 60)
