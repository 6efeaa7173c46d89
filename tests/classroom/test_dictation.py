"""Live dictation: the desk of the teacher and the seats of the learners, on both databases."""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import pytest

from tests.classroom.lockside import FIRST_LEVEL, Lockside, wrong_first_bar
from tests.classroom.people import Clock
from tests.web.test_costs import counted_queries
from trainer.chart import excerpt, format_chart
from trainer.classroom.dictation import DictationDesk
from trainer.classroom.dictation_answers import (
    NOTHING,
    bar_answers,
    dictation_table,
    item_of,
)
from trainer.classroom.dictation_seat import DictationSeat
from trainer.classroom.items import ItemPlan
from trainer.drill import play_part
from trainer.errors import AssignmentError, ClassNotFound
from trainer.exercise import Exercise
from trainer.store import Account, Dictation, DictationState, Role


def desk_of(lockside: Lockside, account: Account | None = None) -> DictationDesk:
    """The desk of the teacher, or of another account."""
    who = account or lockside.teacher
    store, clock = lockside.store, lockside.school.clock
    return DictationDesk(store, who, lockside.learner(who), clock, lockside.seed)


def seat_of(lockside: Lockside, number: int = 0) -> DictationSeat:
    """The seat of a learner."""
    return DictationSeat(lockside.store, lockside.pupils[number], lockside.school.clock)


def song_of(lockside: Lockside, dictation: Dictation) -> Exercise:
    """What the band plays."""
    return item_of(dictation, lockside.store.dictations.song(dictation)).exercise


def passes(lockside: Lockside, seconds: float) -> None:
    """Let time pass."""
    clock = lockside.school.clock
    assert isinstance(clock, Clock)
    clock.passes(seconds=seconds)


@pytest.fixture
def dictation(lockside: Lockside) -> Dictation:
    """A dictation of the class with a song of the first level."""
    return desk_of(lockside).start(lockside.school_class.uid, FIRST_LEVEL, "Friday")


def test_phases_and_revisions_follow_each_other(lockside: Lockside, dictation: Dictation) -> None:
    """Whatever the teacher does is a new revision, and learners see the phase alone."""
    desk, seat = desk_of(lockside), seat_of(lockside)
    seen = [seat.state(dictation.uid)]
    desk.play(dictation.uid)
    seen.append(seat.state(dictation.uid))
    desk.stop(dictation.uid)
    seen.append(seat.state(dictation.uid))
    desk.play(dictation.uid, 2, 3)
    seen.append(seat.state(dictation.uid))
    desk.end(dictation.uid)
    seen.append(seat.state(dictation.uid))
    phases = ["waiting", "playing", "stopped", "playing", "over"]
    assert [each.phase for each in seen] == phases
    assert [each.revision for each in seen] == [1, 2, 3, 4, 5]
    with pytest.raises(AssignmentError, match="over"):
        desk.play(dictation.uid)
    assert desk.end(dictation.uid).revision == 5
    assert seat.open() == ()


def test_a_learner_is_told_nothing_of_the_song() -> None:
    """What a seat gives has neither song nor title nor bars."""
    assert {field.name for field in fields(DictationState)} == {
        "uid", "class_uid", "class_name", "phase", "revision", "text", "handed_in_at",
    }  # fmt: skip


def test_the_bar_that_sounds_is_the_one_the_band_plays(
    lockside: Lockside, dictation: Dictation
) -> None:
    """In the middle of each bar of the arrangement that bar sounds, and what has sounded stays
    known after a stop; a replay counts from its own first bar."""
    desk, song = desk_of(lockside), song_of(lockside, dictation)
    times = play_part(song, 1, dictation.bars).bar_times_s
    begun = desk.play(dictation.uid)
    assert dictation_table(lockside.store, begun, lockside.school.clock()).sounding == 0
    passes(lockside, (times[2][0] + times[2][1]) / 2)
    table = dictation_table(lockside.store, begun, lockside.school.clock())
    assert (table.sounding, table.heard) == (3, 3)
    stopped = desk.stop(dictation.uid)
    table = dictation_table(lockside.store, stopped, lockside.school.clock())
    assert (table.sounding, table.heard) == (0, 3)
    again = desk.play(dictation.uid, 2, 3)
    passes(lockside, 0.1)
    assert dictation_table(lockside.store, again, lockside.school.clock()).sounding == 2
    passes(lockside, 600)
    assert dictation_table(lockside.store, again, lockside.school.clock()).sounding == 3


@pytest.mark.parametrize(("first", "last"), [(0, 2), (3, 2), (1, 99), (99, None)])
def test_bars_that_the_song_lacks_are_not_played(
    lockside: Lockside, dictation: Dictation, first: int, last: int | None
) -> None:
    """The teacher is told how many bars there are, and nothing changes."""
    with pytest.raises(AssignmentError, match=f"bars 1 to {dictation.bars}"):
        desk_of(lockside).play(dictation.uid, first, last)
    assert desk_of(lockside).find(dictation.uid).revision == 1


def test_the_table_says_who_is_where_and_how_it_goes(
    lockside: Lockside, dictation: Dictation
) -> None:
    """Bars written ahead of the band are not graded yet; somebody whose page is silent for a while
    is not here."""
    chart = song_of(lockside, dictation).chart
    seat_of(lockside, 0).keep(dictation.uid, format_chart(excerpt(chart, 1, 4)))
    seat_of(lockside, 1).keep(dictation.uid, wrong_first_bar(excerpt(chart, 1, 2)))
    times = play_part(song_of(lockside, dictation), 1, dictation.bars).bar_times_s
    begun = desk_of(lockside).play(dictation.uid)
    passes(lockside, times[2][0] + 0.01)
    now = lockside.school.clock()
    wren, zoe = dictation_table(lockside.store, begun, now).rows
    assert (wren.written, wren.right, wren.of, wren.is_here) == (4, 3, 3, True)
    assert (zoe.written, zoe.right, zoe.of, zoe.is_handed_in) == (2, 1, 2, False)
    passes(lockside, 30)
    seat_of(lockside, 1).keep(dictation.uid, None)
    rows = dictation_table(lockside.store, begun, lockside.school.clock()).rows
    assert [row.is_here for row in rows] == [False, True]
    assert seat_of(lockside, 1).state(dictation.uid).text != ""


def test_answers_to_a_bar_are_counted_without_names(
    lockside: Lockside, dictation: Dictation
) -> None:
    """The most frequent text comes first, and what nobody wrote comes last."""
    chart = song_of(lockside, dictation).chart
    first = str(chart.bars()[0].events[0].chord)
    lockside.add_pupil("quill")
    lockside.add_pupil("odell")
    right = format_chart(excerpt(chart, 1, 2))
    for number, text in enumerate((right, wrong_first_bar(excerpt(chart, 1, 2)), right, "")):
        seat_of(lockside, number).keep(dictation.uid, text)
    found = bar_answers(lockside.store, dictation, 1)
    assert found.counts == ((first, 2), (f"{first}-", 1), (NOTHING, 1))


def test_the_end_grades_what_was_written(lockside: Lockside, dictation: Dictation) -> None:
    """Handed in or not, each answer becomes an attempt whose result waits for the teacher; who
    wrote nothing has none, and afterwards nothing is taken."""
    desk, song = desk_of(lockside), song_of(lockside, dictation)
    lockside.add_pupil("quill")
    desk.play(dictation.uid)
    passes(lockside, 60)
    seat_of(lockside, 0).hand_in(dictation.uid, format_chart(song.chart))
    seat_of(lockside, 1).keep(dictation.uid, wrong_first_bar(song.chart))
    seat_of(lockside, 2).keep(dictation.uid, "")
    with pytest.raises(AssignmentError, match="stays in the field"):
        seat_of(lockside, 0).keep(dictation.uid, "1")
    over = desk.end(dictation.uid)
    with pytest.raises(AssignmentError, match="over"):
        seat_of(lockside, 1).keep(dictation.uid, "1")
    assignment = desk.assignment(over)
    assert assignment is not None
    assert (assignment.title, assignment.results) == ("Friday", "teacher")
    table = lockside.gradebook.table(assignment.uid)
    (item,) = lockside.store.assignments.items(assignment)
    first, second = lockside.store.assigned.attempts_of([item.id])
    assert first.grade.score == pytest.approx(1)
    assert 0 < second.grade.score < 1
    assert (first.listens, first.counts) == (1, True)
    assert table.assignment.has_ended(lockside.school.clock())
    pupil = lockside.learner(lockside.pupils[0])
    (hidden,) = lockside.store.attempts.history(pupil)
    assert (hidden.duration_s, hidden.paused) == (0, True)
    detail = lockside.store.attempts.get(hidden.id)
    assert detail is not None
    assert not detail.report["speed"]
    assert hidden.is_hidden(lockside.school.clock())
    lockside.assignments.show_results(assignment.uid)
    (shown,) = lockside.store.attempts.history(pupil)
    assert not shown.is_hidden(lockside.school.clock())


def test_an_end_that_was_cut_short_goes_on(
    lockside: Lockside, dictation: Dictation, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If the server stops after the first answer, ending again grades the rest, and none twice."""
    desk, song = desk_of(lockside), song_of(lockside, dictation)
    for number in (0, 1):
        seat_of(lockside, number).keep(dictation.uid, format_chart(song.chart))
    grade, left = DictationDesk._grade, [1]

    def once(self: DictationDesk, *given: Any) -> None:
        if not left:
            raise KeyboardInterrupt
        left.pop()
        grade(self, *given)

    with monkeypatch.context() as cut:
        cut.setattr(DictationDesk, "_grade", once)
        with pytest.raises(KeyboardInterrupt):
            desk.end(dictation.uid)
    over = desk.end(dictation.uid)
    answers = lockside.store.dictations.answers(over)
    assert len({each.attempt_id for each in answers} - {None}) == 2
    for number in (0, 1):
        learner = lockside.learner(lockside.pupils[number])
        assert len(lockside.store.attempts.history(learner)) == 1
        assert lockside.store.open_drills.all(learner) == []


@pytest.mark.parametrize("on_the_way", ["find", "_grade"])
def test_an_end_that_was_asked_for_twice_is_one_end(
    lockside: Lockside, dictation: Dictation, monkeypatch: pytest.MonkeyPatch, on_the_way: str
) -> None:
    """If another request ends the dictation on the way, this one ends well, and nothing is graded
    twice."""
    desk, song = desk_of(lockside), song_of(lockside, dictation)
    for number in (0, 1):
        seat_of(lockside, number).keep(dictation.uid, format_chart(song.chart))
    step, left = getattr(DictationDesk, on_the_way), [1]

    def meanwhile(self: DictationDesk, *given: Any) -> Any:
        # What is found is what was stored before the other request.
        found = step(self, *given) if on_the_way == "find" else None
        if left:
            left.pop()
            desk_of(lockside).end(dictation.uid)
        return step(self, *given) if on_the_way == "_grade" else found

    monkeypatch.setattr(DictationDesk, on_the_way, meanwhile)
    over = desk.end(dictation.uid)
    answers = lockside.store.dictations.answers(over)
    assert len({each.attempt_id for each in answers} - {None}) == 2
    for number in (0, 1):
        learner = lockside.learner(lockside.pupils[number])
        assert len(lockside.store.attempts.history(learner)) == 1


def test_who_was_shown_the_chart_writes_for_practice(lockside: Lockside) -> None:
    """An item's song that a learner knows from an earlier result counts for nothing."""
    _, (item,) = lockside.assign()
    lockside.write(lockside.pupils[0], item)
    desk = desk_of(lockside)
    made = desk.start_item(lockside.school_class.uid, item.uid)
    desk.play(made.uid)
    for number in (0, 1):
        seat_of(lockside, number).keep(made.uid, format_chart(item.exercise.chart))
    assignment = desk.assignment(desk.end(made.uid))
    assert assignment is not None
    (given,) = lockside.store.assignments.items(assignment)
    attempts = lockside.store.assigned.attempts_of([given.id])
    assert [each.counts for each in attempts] == [False, True]


def test_a_song_of_the_songbook_is_played(lockside: Lockside) -> None:
    """A chart of the teacher's own is a dictation like any other."""
    song = lockside.songbook.new("title: Lock Gate\n\n1 4 5 1")
    made = desk_of(lockside).start(lockside.school_class.uid, ItemPlan("song", song.uid))
    assert (made.bars, made.title) == (4, "Dictation")
    assert song_of(lockside, made).chart.title == "Lock Gate"


def test_a_dictation_is_one_song_of_an_open_class(lockside: Lockside) -> None:
    """Ten songs, a different song each, and a closed class are refused."""
    desk, uid = desk_of(lockside), lockside.school_class.uid
    with pytest.raises(AssignmentError, match="one song"):
        desk.start(uid, ItemPlan("skill", "home-four-five", "chord 4"))
    own = ItemPlan("level", "home-four-five", same_song=False)
    _, (item,) = lockside.assign([own])
    with pytest.raises(AssignmentError, match="of their own"):
        desk.start_item(uid, item.uid)
    desk.classes.close(uid, closed=True)
    with pytest.raises(AssignmentError, match="closed"):
        desk.start(uid, FIRST_LEVEL)


def test_a_learner_is_led_to_the_newest_dictation(lockside: Lockside, dictation: Dictation) -> None:
    """One that a teacher began and left is not beside it; it can be ended later."""
    newer = desk_of(lockside).start(lockside.school_class.uid, FIRST_LEVEL)
    assert [each.uid for each in seat_of(lockside).open()] == [newer.uid]
    desk_of(lockside).end(newer.uid)
    assert [each.uid for each in seat_of(lockside).open()] == [dictation.uid]


def test_other_teachers_and_learners_find_nothing(lockside: Lockside, dictation: Dictation) -> None:
    """A desk is for the teachers of the class, a seat for its learners."""
    stranger = lockside.school.sign_up("odell", Role.TEACHER)
    for account in (stranger, lockside.pupils[0]):
        with pytest.raises(ClassNotFound):
            desk_of(lockside, account).find(dictation.uid)
    for account in (stranger, lockside.teacher):
        seat = DictationSeat(lockside.store, account, lockside.school.clock)
        with pytest.raises(ClassNotFound):
            seat.state(dictation.uid)
        with pytest.raises(ClassNotFound):
            seat.keep(dictation.uid, "1")


def test_a_large_class_costs_no_more_reads(small_lockside: Lockside) -> None:
    """The table of thirty learners takes three reads, a bar's answers two, and a learner's phase
    one."""
    lockside = small_lockside
    for number in range(28):
        lockside.add_pupil(f"pupil{number}")
    desk = desk_of(lockside)
    made = desk.start(lockside.school_class.uid, FIRST_LEVEL)
    for number in range(30):
        seat_of(lockside, number).keep(made.uid, "1 4 5 1")
    begun = desk.play(made.uid)
    now = lockside.school.clock()
    with counted_queries() as table:
        assert len(dictation_table(lockside.store, begun, now).rows) == 30
    with counted_queries() as answers:
        assert sum(count for _, count in bar_answers(lockside.store, begun, 1).counts) == 30
    with counted_queries() as phase:
        seat_of(lockside).state(made.uid)
    assert (len(table), len(answers), len(phase)) == (3, 2, 1)
