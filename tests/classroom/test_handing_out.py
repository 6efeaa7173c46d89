from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from unittest.mock import patch

import pytest

from tests.classroom.lockside import FIRST_LEVEL, WEEK, Lockside, found
from tests.classroom.people import School
from trainer.chart import format_chart
from trainer.classroom.handing_out import place_of
from trainer.classroom.items import ItemPlan
from trainer.drill import attempt_kind, exercise_kinds, find_result, play_song, rating_state, submit
from trainer.errors import (
    AssignmentClosed,
    ClassNotFound,
    NoListenLeft,
    ResultHidden,
    SettingsError,
    StoreError,
    StoreLocked,
)
from trainer.exercise import exercise_to_json, load_course
from trainer.store import Store
from trainer.store.assigned import AssignedWork


def test_what_is_handed_out_makes_no_song(lockside: Lockside) -> None:
    """Neither the id, the recipe nor the seed of what a learner gets says how its song is made."""
    _, (item,) = lockside.assign()
    wren, zoe = lockside.pupils
    first, second = (lockside.work(each).begin(item.uid).exercise for each in (wren, zoe))
    assert item.exercise.seed > 0
    assert first.chart == second.chart == item.exercise.chart
    assert first.id != second.id
    told = json.dumps({k: v for k, v in exercise_to_json(first).items() if k != "chart"})
    assert item.exercise.id not in told
    assert str(item.exercise.seed) not in told
    assert set(first.recipe) <= {
        "assignment", "band", "listens", "loop", "ask", "help", "thrice", "key_hidden"
    }  # fmt: skip
    assert first.seed == 0


def test_the_same_song_sounds_the_same_to_all(small_lockside: Lockside) -> None:
    """Learners with one song hear one performance, which is rendered once."""
    _, (item,) = small_lockside.assign()
    exercises = [small_lockside.work(each).begin(item.uid).exercise for each in
                 small_lockside.pupils]  # fmt: skip
    one, other = map(play_song, exercises)
    assert one == other


def test_begin_goes_on_with_the_try_under_way(lockside: Lockside) -> None:
    """Beginning an item again gives the drill that is open, with what was typed."""
    _, (item,) = lockside.assign()
    wren = lockside.pupils[0]
    drill = lockside.work(wren).begin(item.uid)
    lockside.drills(wren).keep_text(drill.record.key, "1 4", token=drill.token)
    again = lockside.work(wren).begin(item.uid)
    assert (again.token, again.progress.text) == (drill.token, "1 4")


def test_a_perfect_answer_is_in_its_place(lockside: Lockside) -> None:
    """What was handed in stands in the assignment, with its score, and in the learner's record."""
    assignment, (item,) = lockside.assign()
    wren = lockside.pupils[0]
    done = lockside.write(wren, item)
    (attempt,) = lockside.store.assigned.attempts_of([item.id])
    assert (attempt.attempt_id, attempt.grade.score, attempt.counts) == (done.attempt.id, 1.0, True)
    due = lockside.work(wren).find(assignment.uid)
    assert (due.done, due.items[0].can_work, due.is_due) == (1, False, False)
    learner = lockside.learner(wren)
    assert find_result(lockside.store, learner, done.attempt.id) is not None


def test_a_level_done_in_class_is_passed(small_lockside: Lockside) -> None:
    """An item of a level that is heard as in the course counts for it, and under another scheme or
    tempo for none."""
    level = load_course()[0]
    _, (item,) = small_lockside.assign()
    done = small_lockside.write(small_lockside.pupils[0], item)
    assert (done.attempt.level_id, done.attempt.passed) == (level.id, True)
    _, (other,) = small_lockside.assign([replace(FIRST_LEVEL, tempo=80)])
    slow = small_lockside.write(small_lockside.pupils[0], other)
    assert slow.attempt.level_id is None
    kinds = exercise_kinds(small_lockside.store, small_lockside.learner(small_lockside.pupils[0]))
    assert attempt_kind(slow.attempt, kinds) == "assignment"
    _, (strict,) = small_lockside.assign(scheme={"scheme": "strict"})
    assert small_lockside.write(small_lockside.pupils[1], strict).attempt.level_id is None


@contextmanager
def failing() -> Iterator[None]:
    """Storing the place of an attempt fails, as when the disk is full."""
    error = StoreError("no space left")
    with patch.object(AssignedWork, "add_attempt", side_effect=error):
        yield


def test_attempt_and_place_are_stored_together(lockside: Lockside) -> None:
    """Where the place of an attempt cannot be stored, neither is the attempt, and what was typed is
    still there to be handed in."""
    _, (item,) = lockside.assign()
    wren = lockside.pupils[0]
    with failing(), pytest.raises(StoreError, match="no space"):
        lockside.write(wren, item)
    assert lockside.store.attempts.count(lockside.learner(wren)) == 0
    assert lockside.store.assigned.attempts_of([item.id]) == ()
    assert lockside.write(wren, item).report.score == 1.0


def test_handing_in_twice_is_one_attempt(lockside: Lockside) -> None:
    """A second submission with the same token changes nothing."""
    _, (item,) = lockside.assign()
    wren = lockside.pupils[0]
    drill = lockside.work(wren).begin(item.uid)
    drills, place = (
        lockside.drills(wren),
        place_of(lockside.store, drill.record, lockside.school.clock()),
    )
    one, two = (
        submit(drills, drill.record.key, "1 4 5 1", token=drill.token, place=place)
        for _ in range(2)
    )
    assert one.attempt.id == two.attempt.id
    assert len(lockside.store.assigned.attempts_of([item.id])) == 1


def test_a_song_handed_in_is_practice_from_then_on(small_lockside: Lockside) -> None:
    """Whoever does a song of an assignment again gets no second place in it."""
    _, (item,) = small_lockside.assign()
    wren = small_lockside.pupils[0]
    done = small_lockside.write(wren, item)
    drills = small_lockside.drills(wren)
    again = drills.begin_known(done.exercise.key)
    assert again is not None
    assert again.seen
    assert place_of(small_lockside.store, again.record, small_lockside.school.clock()) is None


def test_a_song_whose_result_is_hidden_is_not_played_again(lockside: Lockside) -> None:
    """Until the result is shown nobody writes the song a second time, whose result would show the
    chart; handing in twice with one token is still one attempt."""
    _, (item,) = lockside.assign(results="closed")
    wren = lockside.pupils[0]
    drill, drills = lockside.work(wren).begin(item.uid), lockside.drills(wren)
    drills.listen(drill.record.key)
    key, clock, text = drill.record.key, lockside.school.clock, "1 4 5 1"
    for _ in range(2):
        place = place_of(lockside.store, drill.record, clock())
        done = submit(drills, key, text, token=drill.token, place=place)
    again = drills.begin_known(key)
    assert again is not None
    place = place_of(lockside.store, again.record, clock())
    assert place is not None
    assert place.is_handed_in
    with pytest.raises(AssignmentClosed, match="once your teacher shows"):
        submit(drills, key, text, token=again.token, place=place)
    assert lockside.store.attempts.count(lockside.learner(wren)) == 1
    clock.passes(days=8)
    assert place_of(lockside.store, again.record, clock()) is None
    assert find_result(lockside.store, lockside.learner(wren), done.attempt.id, clock())


def test_work_is_taken_between_opening_and_end(lockside: Lockside) -> None:
    """Nothing is begun before an assignment opens, after it ended, or once all tries are used."""
    now = lockside.school.clock()
    _, (waiting,) = lockside.assign(opens_at=now + timedelta(hours=1))
    wren, zoe = lockside.pupils
    with pytest.raises(ClassNotFound):
        lockside.work(wren).begin(waiting.uid)
    _, (item,) = lockside.assign()
    lockside.write(wren, item)
    with pytest.raises(AssignmentClosed, match="all your tries"):
        lockside.work(wren).begin(item.uid)
    drill = lockside.work(zoe).begin(item.uid)
    place = place_of(lockside.store, drill.record, lockside.school.clock())
    lockside.school.clock.passes(days=8)
    with pytest.raises(AssignmentClosed, match="is over"):
        lockside.work(zoe).begin(item.uid)
    with pytest.raises(AssignmentClosed, match="stays in the field"):
        submit(lockside.drills(zoe), drill.record.key, "1 4", token=drill.token, place=place)
    assert lockside.drills(zoe).find(drill.record.key) is not None
    assert lockside.store.attempts.count(lockside.learner(zoe)) == 0


def test_nobody_works_for_a_class_they_are_not_in(lockside: Lockside) -> None:
    """A learner of no class, and one who left, see and begin nothing of it."""
    assignment, (item,) = lockside.assign()
    stranger = lockside.school.sign_up("moss")
    for account in (stranger, lockside.teacher):
        assert lockside.work(account).all() == ()
        with pytest.raises(ClassNotFound):
            lockside.work(account).begin(item.uid)
    wren = lockside.pupils[0]
    lockside.store.classes.leave(lockside.school_class.id, wren.id, lockside.school.clock())
    with pytest.raises(ClassNotFound):
        lockside.work(wren).find(assignment.uid)


def test_late_work_costs_what_was_agreed(lockside: Lockside) -> None:
    """Work after the due time loses its share of the score, and says that it was late."""
    now = lockside.school.clock()
    _, (item,) = lockside.assign(late_until=now + 2 * WEEK, late_cost=0.25)
    wren, zoe = lockside.pupils
    lockside.write(wren, item)
    lockside.school.clock.passes(days=8)
    lockside.write(zoe, item)
    in_time, late = lockside.store.assigned.attempts_of([item.id])
    assert (in_time.late, in_time.grade.score) == (False, 1.0)
    assert (late.late, late.grade.graded, late.grade.score) == (True, 1.0, 0.75)


@pytest.mark.parametrize("results", ["closed", "teacher"])
def test_results_wait_until_they_are_shown(lockside: Lockside, results: str) -> None:
    """Until an assignment shows results, nothing tells how it went: neither the result nor ratings,
    sums, levels or exports; afterwards the next work brings all of them up."""
    assignment, (item,) = lockside.assign(results=results)
    wren = lockside.pupils[0]
    learner, store = lockside.learner(wren), lockside.store
    done = lockside.write(wren, item)

    def seen() -> None:
        find_result(store, learner, done.attempt.id, lockside.school.clock())

    with pytest.raises(ResultHidden):
        seen()
    assert rating_state(store, learner).attempts == 0
    assert store.progress.days(learner) == ()
    assert store.progress.confusions(learner) == ()
    assert store.attempts.best_by_level(learner) == {}
    exported = store.transfer.export_json(learner)
    assert exported["attempts"] == exported["exercises"] == []
    if results == "teacher":
        lockside.school.clock.passes(days=8)
        with pytest.raises(ResultHidden):
            seen()
        lockside.assignments.show_results(assignment.uid)
    else:
        lockside.school.clock.passes(days=8)
    seen()
    _, (other,) = lockside.assign()
    lockside.write(wren, other)
    assert rating_state(store, learner).attempts == 2
    assert len(store.transfer.export_json(learner)["attempts"]) == 2


def test_a_second_try_counts_while_results_are_hidden(lockside: Lockside) -> None:
    """A learner who has not been shown the chart is tried again on the same song; the ratings then
    learn of both tries."""
    assignment, (item,) = lockside.assign(tries=2, results="closed")
    wren = lockside.pupils[0]
    first = lockside.write(wren, item, "1 4 5")
    second = lockside.write(wren, item)
    assert (first.attempt.seen, second.attempt.seen) == (False, False)
    tries = lockside.store.assigned.attempts_of([item.id])
    assert [(each.number, each.counts) for each in tries] == [(1, True), (2, True)]
    assert not lockside.work(wren).find(assignment.uid).items[0].can_work


def test_an_attempt_after_the_chart_was_shown_never_counts(lockside: Lockside) -> None:
    """A learner who knows the teacher's song from its songbook practises with it, at any tempo."""
    song = lockside.songbook.new("title: Weir\nmeter: 4/4\ntempo: 96\nkey: D\n\nVerse:\n1 4 5 1\n")
    lockside.songbook.share(song.uid, shared=True)
    _, (item,) = lockside.assign([ItemPlan("song", song.uid, tempo=80)])
    wren, zoe = lockside.pupils
    from trainer.songbook import Songbook

    Songbook(lockside.store, lockside.learner(wren), lockside.school.clock).open(song.uid)
    assert lockside.write(wren, item).attempt.seen
    assert not lockside.write(zoe, item).attempt.seen
    counts = [each.counts for each in lockside.store.assigned.attempts_of([item.id])]
    assert counts == [False, True]
    assert item.exercise.chart.tempo == pytest.approx(76.8)


def test_an_attempt_without_a_listen_never_counts(lockside: Lockside) -> None:
    """A chart that was written without the song shows nothing."""
    _, (item,) = lockside.assign()
    lockside.write(lockside.pupils[0], item, listens=0)
    (attempt,) = lockside.store.assigned.attempts_of([item.id])
    assert not attempt.counts


def test_everyone_gets_a_different_song_if_the_teacher_says_so(lockside: Lockside) -> None:
    """Each learner, and each try, has a song of its own that is as difficult as the item's."""
    plan = replace(FIRST_LEVEL, name="five-over-seven", same_song=False)
    _, (item,) = lockside.assign([plan], tries=2)
    charts = [
        format_chart(lockside.write(each, item).exercise.exercise.chart)
        for each in lockside.pupils
        for _ in range(2)
    ]
    assert len(set(charts)) == 4


def test_one_pass_is_one_listen_at_full_speed(small_lockside: Lockside) -> None:
    """An item of one pass is heard once, and not slower."""
    _, (item,) = small_lockside.assign([replace(FIRST_LEVEL, one_pass=True)])
    wren = small_lockside.pupils[0]
    drill, drills = small_lockside.work(wren).begin(item.uid), small_lockside.drills(wren)
    with pytest.raises(SettingsError, match="hears this song once"):
        drills.listen(drill.record.key, 70)
    drills.listen(drill.record.key)
    with pytest.raises(SettingsError, match="hears this song once"):
        drills.change_speed(drill.record.key, 70)
    with pytest.raises(NoListenLeft):
        drills.listen(drill.record.key)


def test_two_windows_begin_one_try(lockside: Lockside) -> None:
    """A try that another window has handed out meanwhile is gone on with."""
    assignment, (item,) = lockside.assign(tries=3, results="closed")
    wren = lockside.pupils[0]
    work = lockside.work(wren)
    work._hand_out(assignment, item, 1)
    work._hand_out(assignment, item, 1)
    assert len(lockside.store.assigned.of_account(wren.id, [item.id])) == 1


def test_a_scheme_changed_while_somebody_hands_in_holds(lockside: Lockside) -> None:
    """An answer that was graded by the old scheme is graded by the new one when it is stored."""
    assignment, (item,) = lockside.assign()
    wren = lockside.pupils[0]
    drill, drills = lockside.work(wren).begin(item.uid), lockside.drills(wren)
    drills.listen(drill.record.key)
    place = place_of(lockside.store, drill.record, lockside.school.clock())
    lockside.regrading.change_scheme(assignment.uid, {"scheme": "strict"})
    text = format_chart(drill.exercise.chart).replace("4", "2-")
    done = submit(drills, drill.record.key, text, token=drill.token, place=place)
    (attempt,) = lockside.store.assigned.attempts_of([item.id])
    assert attempt.grade.graded < done.report.score


def test_results_shown_while_somebody_writes_are_shown(lockside: Lockside) -> None:
    """Who hands in after the teacher has shown the results sees theirs at once."""
    assignment, (item,) = lockside.assign(results="teacher")
    wren = lockside.pupils[0]
    drill, drills = lockside.work(wren).begin(item.uid), lockside.drills(wren)
    drills.listen(drill.record.key)
    place = place_of(lockside.store, drill.record, lockside.school.clock())
    lockside.assignments.show_results(assignment.uid)
    done = submit(drills, drill.record.key, "1 4 5 1", token=drill.token, place=place)
    assert done.attempt.hidden_until is None
    assert rating_state(lockside.store, lockside.learner(wren)).attempts == 1


def test_two_learners_hand_in_at_the_same_time(postgresql_location: str) -> None:
    """Handing in keeps the assignment as it is, without making others who hand in wait; only a
    teacher who changes it waits (PostgreSQL, where several write at a time)."""
    with Store(postgresql_location) as store, Store(postgresql_location, wait_s=0.2) as other:
        assignment, _ = found(School(store)).assign()
        with store.transaction() as one:
            assert one.assignments.get(assignment.id, lock="stay") == assignment
            with other.transaction() as two:
                assert two.assignments.get(assignment.id, lock="stay") == assignment
            with pytest.raises(StoreLocked), other.transaction() as two:
                two.assignments.get(assignment.id, lock="change")
