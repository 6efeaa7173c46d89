from __future__ import annotations

import json

import pytest

from tests.classroom.lockside import (
    FIRST_LEVEL,
    WEEK,
    Lockside,
    missing_bar,
    wrong_first_bar,
)
from trainer.classroom.assignments import subject_of
from trainer.drill import let_results_count
from trainer.errors import AssignmentError, ClassNotFound, NotationError, SettingsError
from trainer.exercise import song_digest
from trainer.grade import SCHEMES, grade
from trainer.store import read_export


def test_a_scheme_is_shown_before_it_is_used(lockside: Lockside) -> None:
    """What another scheme would do is shown without storing anything; using it stores the grades
    that were shown, keeps those before and logs both."""
    assignment, (item,) = lockside.assign()
    wren, zoe = lockside.pupils
    lockside.write(wren, item)
    lockside.write(zoe, item, wrong_first_bar(item.exercise.chart))
    shown = lockside.regrading.preview_scheme(assignment.uid, {"scheme": "strict"})
    before = [each.grade for each in lockside.store.assigned.attempts_of([item.id])]
    assert [each.before.score for each in shown] == [each.score for each in before]
    changed = lockside.regrading.change_scheme(assignment.uid, {"scheme": "strict"})
    assert changed == shown
    after = lockside.store.assigned.attempts_of([item.id])
    assert [each.grade.score for each in after] == [each.after.score for each in shown]
    assert after[0].grade.score == 1.0
    assert after[1].grade.score < before[1].score
    (earlier,) = lockside.store.class_grades.earlier(after[1].attempt_id)
    assert (earlier.reason, earlier.grade.score) == ("scheme", before[1].score)
    newest = lockside.store.audit_log.of(subject_of(assignment))[0]
    assert newest.what == "scheme changed"
    assert newest.before is not None
    assert newest.after is not None
    assert newest.before["scores"][str(after[1].attempt_id)] == before[1].score
    assert newest.after["scores"][str(after[1].attempt_id)] == after[1].grade.score
    assert newest.who == lockside.teacher.uid


def test_a_grade_under_a_scheme_is_the_graders(lockside: Lockside) -> None:
    """A grade made again is what the grader gives for the two charts under those weights."""
    assignment, (item,) = lockside.assign()
    done = lockside.write(lockside.pupils[0], item, wrong_first_bar(item.exercise.chart))
    lockside.regrading.change_scheme(assignment.uid, {"scheme": "symbols"})
    (attempt,) = lockside.store.assigned.attempts_of([item.id])
    wanted = grade(item.exercise.chart, done.answer.chart, weights=SCHEMES["symbols"])
    assert attempt.grade.score == pytest.approx(wanted.score)


def test_going_back_gives_every_grade_back(lockside: Lockside) -> None:
    """The scheme that answers were handed in under gives exactly the grades they had."""
    assignment, (item,) = lockside.assign()
    lockside.write(lockside.pupils[0], item, wrong_first_bar(item.exercise.chart))
    before = lockside.store.assigned.attempts_of([item.id])
    lockside.regrading.change_scheme(assignment.uid, {"scheme": "strict", "phrases": 0.2})
    lockside.regrading.change_scheme(assignment.uid, None)
    assert lockside.store.assigned.attempts_of([item.id]) == before


def test_a_scheme_that_cannot_be_changes_nothing(lockside: Lockside) -> None:
    """Weights are checked before anything is graded."""
    assignment, _ = lockside.assign()
    with pytest.raises(SettingsError, match="weights"):
        lockside.regrading.change_scheme(assignment.uid, {"root": -1.0})
    assert lockside.store.assignments.find(assignment.uid) == assignment


def test_a_bar_with_full_credit_makes_the_score_whole(lockside: Lockside) -> None:
    """Giving the only wrong bar all the credit gives the score of a perfect answer, keeps the grade
    before, and logs who did it."""
    _, (item,) = lockside.assign()
    done = lockside.write(lockside.pupils[0], item, wrong_first_bar(item.exercise.chart))
    change = lockside.regrading.override(
        done.attempt.id, 1, 1.0, "I heard a 2- in the guitar, too."
    )
    assert change.before.score == done.report.score < 1
    assert change.after.score == pytest.approx(1.0)
    (attempt,) = lockside.store.assigned.attempts_of([item.id])
    assert attempt.grade.score == change.after.score
    (earlier,) = lockside.store.class_grades.earlier(done.attempt.id)
    assert earlier.reason == "override"
    (entry,) = lockside.store.audit_log.of(f"attempt {done.attempt.id}")
    assert entry.after is not None
    assert (entry.after["bar"], entry.after["credit"]) == (1, 1.0)
    bar = lockside.sheets.sheet(item.uid).bars[0]
    assert bar.missed == ()
    assert bar.written[0].changed
    assert bar.written[0].comment.startswith("I heard")


def test_one_bar_moves_the_score_by_its_share(lockside: Lockside) -> None:
    """Half of a bar's credit is worth half of what a bar makes up of the score."""
    _, (item,) = lockside.assign()
    done = lockside.write(lockside.pupils[0], item)
    bars = len(item.exercise.chart.bars())
    change = lockside.regrading.override(done.attempt.id, 1, 0.5)
    assert 1 - change.after.score == pytest.approx(0.5 / bars, rel=0.12)
    assert lockside.regrading.override(done.attempt.id, 1, None).after.score == pytest.approx(1.0)
    assert lockside.store.class_grades.overrides(done.attempt.id) == ()


def test_a_comment_changes_no_grade(lockside: Lockside) -> None:
    """A comment alone is kept, also on the attempt as a whole, and the score stays."""
    _, (item,) = lockside.assign()
    done = lockside.write(lockside.pupils[0], item)
    change = lockside.regrading.override(done.attempt.id, 0, None, "Lovely.")
    assert change.is_none
    assert lockside.store.class_grades.earlier(done.attempt.id) == ()
    (kept,) = lockside.store.class_grades.overrides(done.attempt.id)
    assert (kept.bar, kept.comment) == (0, "Lovely.")


def test_the_whole_may_be_given_a_score(lockside: Lockside) -> None:
    """A score for the attempt as a whole stands in place of what its bars come to; lateness still
    costs."""
    now = lockside.school.clock()
    _, (item,) = lockside.assign(late_until=now + 2 * WEEK, late_cost=0.5)
    lockside.school.clock.passes(days=8)
    done = lockside.write(lockside.pupils[0], item, "1 2 3")
    assert lockside.regrading.override(done.attempt.id, 0, 0.9).after.score == pytest.approx(0.45)


@pytest.mark.parametrize(("bar", "credit"), [(-1, 1.0), (999, 1.0), (1, 1.5), (1, -0.1)])
def test_what_no_bar_can_have_is_refused(lockside: Lockside, bar: int, credit: float) -> None:
    """A bar is one of the song's, and a credit a share."""
    _, (item,) = lockside.assign()
    done = lockside.write(lockside.pupils[0], item)
    with pytest.raises(AssignmentError, match="expected"):
        lockside.regrading.override(done.attempt.id, bar, credit)


def test_overrides_outlive_another_scheme(lockside: Lockside) -> None:
    """A bar that was given all the credit has it under every scheme."""
    assignment, (item,) = lockside.assign()
    done = lockside.write(lockside.pupils[0], item, wrong_first_bar(item.exercise.chart))
    lockside.regrading.override(done.attempt.id, 1, 1.0)
    lockside.regrading.change_scheme(assignment.uid, {"scheme": "strict"})
    (attempt,) = lockside.store.assigned.attempts_of([item.id])
    assert attempt.grade.graded < 1
    assert attempt.grade.score == pytest.approx(1.0)


def test_a_second_chart_is_right_for_all(lockside: Lockside) -> None:
    """An accepted chart lifts every answer that is like it, those to come too, and lowers none;
    taking it back gives the grades before."""
    _, (item,) = lockside.assign()
    wren, zoe = lockside.pupils
    lockside.write(wren, item)
    second = wrong_first_bar(item.exercise.chart)
    lockside.write(zoe, item, second)
    moss = lockside.add_pupil("moss")
    before = [each.grade.score for each in lockside.store.assigned.attempts_of([item.id])]
    song = song_digest(item.exercise)
    shown = lockside.regrading.preview_chart(item.uid, song, second)
    assert [each.after.score for each in shown] == [1.0, 1.0]
    lockside.regrading.accept_chart(item.uid, song, second, "Both can be heard.")
    lockside.write(moss, item, second)
    after = lockside.store.assigned.attempts_of([item.id])
    assert [each.grade.score for each in after] == [1.0, 1.0, 1.0]
    (chart,) = lockside.store.class_grades.accepted([item.id])
    assert [each.grade.accepted_id for each in after] == [None, chart.id, chart.id]
    assert lockside.sheets.sheet(item.uid).bars[0].missed == ()
    lockside.regrading.withdraw_chart(item.uid, chart.id)
    restored = [each.grade.score for each in lockside.store.assigned.attempts_of([item.id])]
    assert restored == [*before, before[1]]


def test_an_accepted_chart_of_another_length_stands_beside_no_bar(lockside: Lockside) -> None:
    """Answers graded against a chart with fewer bars are named apart from the song's bars."""
    _, (item,) = lockside.assign()
    zoe = lockside.pupils[1]
    second = missing_bar(item.exercise.chart)
    lockside.write(zoe, item, second)
    lockside.regrading.accept_chart(item.uid, song_digest(item.exercise), second)
    sheet = lockside.sheets.sheet(item.uid)
    assert [each.account_id for each in sheet.others] == [zoe.id]
    assert sheet.bars[0].written == ()


def test_a_second_chart_is_a_whole_chart(lockside: Lockside) -> None:
    """A text with a mistake in it is not accepted, nor is a chart for a song that is not there."""
    _, (item,) = lockside.assign()
    lockside.write(lockside.pupils[0], item)
    with pytest.raises(NotationError):
        lockside.regrading.accept_chart(item.uid, song_digest(item.exercise), "1 4 x")
    with pytest.raises(ClassNotFound):
        lockside.regrading.accept_chart(item.uid, "0" * 64, "1 4 5 1")


def test_a_learner_takes_along_what_the_class_says(lockside: Lockside) -> None:
    """A learner's export has the class's grade and the teacher's comment, once they are shown, and
    can be read back into a record."""
    assignment, (item,) = lockside.assign(results="teacher")
    wren = lockside.pupils[0]
    done = lockside.write(wren, item, wrong_first_bar(item.exercise.chart))
    lockside.regrading.override(done.attempt.id, 1, 1.0, "Fair.")
    learner, transfer = lockside.learner(wren), lockside.store.transfer
    assert "class_work" not in transfer.export_json(learner)
    lockside.assignments.show_results(assignment.uid)
    let_results_count(lockside.store, learner, lockside.school.clock())
    exported = json.loads(json.dumps(transfer.export_json(learner)))
    (work,) = exported["class_work"]
    assert (work["class"], work["assignment"]) == ("Lock-side band", "Week 3")
    assert work["score"] == pytest.approx(1.0)
    assert work["bars"] == [{"bar": 1, "credit": 1.0, "comment": "Fair."}]
    assert len(read_export(exported).attempts) == 1


def test_only_those_who_teach_the_class_change_grades(lockside: Lockside) -> None:
    """Another teacher, and the learner, can change nothing."""
    assignment, (item,) = lockside.assign([FIRST_LEVEL])
    done = lockside.write(lockside.pupils[0], item)
    for other in (lockside.school.sign_up("bram"), lockside.pupils[0]):
        lockside.teacher = other
        with pytest.raises(ClassNotFound):
            lockside.regrading.override(done.attempt.id, 1, 1.0)
        with pytest.raises(ClassNotFound):
            lockside.regrading.change_scheme(assignment.uid, None)
        with pytest.raises(ClassNotFound):
            lockside.regrading.accept_chart(item.uid, song_digest(item.exercise), "1 4 5 1")
