"""Submitting: graded and stored once, with all that follows from it, or not at all."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from sqlalchemy import event

from tests.drill.evening import Clock, answered, in_time, shown, stored
from tests.store.samples import NOW, SONG, TEXT, exercise
from trainer.drill import DailySets, Drills, rating_state, submission, submit
from trainer.errors import DrillReplaced, InputError, NothingWritten, StoreError
from trainer.exercise import load_course, read_answer
from trainer.grade import Report, grade, report_to_json, weights_for
from trainer.practice import graded_bars
from trainer.store import Store

KEY = exercise().id
# What an attempt writes to or takes from, each in a statement of its own.
WRITTEN = {
    "attempt": "INSERT INTO attempts ",
    "report": "INSERT INTO submissions ",
    "bars": "INSERT INTO bar_results ",
    "state": "INSERT INTO practice_states ",
    "skills": "INSERT INTO skill_states ",
    "ratings of the day": "INSERT INTO rating_days ",
    "sums of skills": "INSERT INTO skill_days ",
    "sums of chords": "INSERT INTO confusion_days ",
    "set": "UPDATE set_items ",
    "drill": "DELETE FROM drills ",
}


def test_an_answer_is_graded_and_stored(drills: Drills, clock: Clock) -> None:
    """What was submitted is on record as the grader graded it, with how the work went."""
    drill = drills.begin(exercise())
    for speed in (100, 80):
        drills.listen(KEY, speed, drill.token)
    clock.pass_(seconds=90)
    done = submit(drills, KEY, TEXT, token=drill.token)
    answer = read_answer(exercise(), TEXT)
    report = grade(exercise().chart, answer.chart, weights=weights_for("everything"))
    assert (done.report.score, done.report.advice) == (report.score, report.advice)
    assert done.answer.chart == answer.chart
    attempt = done.attempt
    assert (attempt.score, attempt.bars, attempt.level) == (report.score, 4, 3)
    assert (attempt.listens, attempt.tempo_ratio, attempt.paused) == (2, 0.8, False)
    assert (attempt.started_at, attempt.finished_at) == (NOW, clock.now)
    assert (attempt.duration_s, attempt.day) == (90.0, NOW.date())
    assert (attempt.token, attempt.seen, attempt.first_pass) == (drill.token, False, False)
    detail = drills.store.attempts.get(attempt.id)
    assert detail is not None
    assert detail.answer_text == TEXT
    assert detail.report == json.loads(json.dumps(report_to_json(done.report)))
    assert detail.bars == graded_bars(done.report, exercise(), answer)
    assert drills.find(KEY) is None


def test_what_is_asked_is_what_is_graded(drills: Drills) -> None:
    """An exercise that asks for roots alone is graded by the weights of roots."""
    done = answered(drills, exercise(ask="roots"), "1 (1 5) 6 4".replace("(1 5)", "(1 5)"))
    report = grade(
        exercise().chart,
        read_answer(exercise(), "1 (1 5) 6 4").chart,
        weights=weights_for("roots"),
    )
    assert done.report.score == report.score
    assert done.report.score > grade(exercise().chart, done.answer.chart).score


def test_when_bars_were_written_is_graded(drills: Drills) -> None:
    """With one listen, no pause and stamps of every bar, an answer is timed and a first pass."""
    stamps = in_time(exercise(), SONG, lag_beats=3.0)
    done = answered(drills, exercise(), SONG, stamps=stamps)
    assert done.report.speed is not None
    assert done.attempt.first_pass
    assert done.attempt.lag_beats == pytest.approx(3.0)


def test_lags_are_of_the_speed_that_was_played(drills: Drills) -> None:
    """Bars of a slowed song sound later; a lag is still in beats of what was played."""
    drills.begin(exercise())
    drill = drills.listen(KEY, 50)
    stamps = in_time(exercise(), SONG, lag_beats=2.0, speed=50)
    done = submit(drills, KEY, SONG, token=drill.token, stamps=stamps)
    assert done.attempt.lag_beats == pytest.approx(2.0)
    assert done.attempt.tempo_ratio == 0.5


@pytest.mark.parametrize(
    "stamps", ["", "[[1, 2]]", "{", "[[11, " + "9" * 4000 + "]]", "[" * 400_000, "[[11, 1e999]]"]
)
def test_stamps_that_fit_nothing_are_no_times(drills: Drills, stamps: str) -> None:
    """An answer whose times are not known is graded without them, whatever was sent."""
    done = answered(drills, exercise(), SONG, stamps=stamps)
    assert done.attempt.lag_beats is None
    assert done.attempt.score == 1.0


def test_without_a_listen_nothing_is_timed(drills: Drills) -> None:
    """What was written with nothing played has no lag, and counts for nothing."""
    stamps = in_time(exercise(), SONG)
    done = answered(drills, exercise(), SONG, listens=0, stamps=stamps)
    assert done.attempt.lag_beats is None
    assert not done.attempt.counts
    assert rating_state(drills.store, drills.learner).skills == {}
    assert drills.store.attempts.best_by_level(drills.learner) == {}
    assert drills.store.progress.skills(drills.learner) == ()


def test_a_pause_is_on_record(drills: Drills) -> None:
    """A pause that was noted on the way, or told at the end alone, makes it no first pass."""
    drill = drills.begin(exercise())
    drills.listen(KEY)
    drills.heard(KEY, 2.0, paused=True)
    stamps = in_time(exercise(), SONG)
    noted = submit(drills, KEY, SONG, token=drill.token, stamps=stamps)
    told = answered(drills, exercise(2), SONG, stamps=in_time(exercise(2), SONG), paused=True)
    for done in (noted, told):
        assert done.attempt.paused
        assert not done.attempt.first_pass
        assert done.attempt.lag_beats is not None


@pytest.mark.parametrize("text", ["", "  \n\t\n"])
def test_nothing_written_is_not_submitted(drills: Drills, fresh_store: Store, text: str) -> None:
    """An empty answer is told, and the drill goes on."""
    drill = drills.begin(exercise())
    before = stored(fresh_store)
    with pytest.raises(NothingWritten, match="You haven't written anything yet"):
        submit(drills, KEY, text, token=drill.token)
    assert stored(fresh_store) == before


def test_a_text_longer_than_any_chart_is_not_submitted(drills: Drills, fresh_store: Store) -> None:
    """More than 20,000 characters are told, and what was kept before stays."""
    drill = drills.begin(exercise())
    drills.keep_text(KEY, TEXT)
    before = stored(fresh_store)
    with pytest.raises(InputError, match="more than 20,000 characters"):
        submit(drills, KEY, "1" * 20_001, token=drill.token)
    assert stored(fresh_store) == before


def test_the_same_submission_again_is_the_same_attempt(
    drills: Drills, fresh_store: Store, clock: Clock
) -> None:
    """A page that sends twice is given the attempt that was stored first, and its report."""
    done = answered(drills, exercise())
    assert done.attempt.token is not None
    before = stored(fresh_store)
    clock.pass_(hours=1)
    again = submit(drills, KEY, TEXT, token=done.attempt.token)
    assert again.attempt == done.attempt
    assert again.report.score == done.report.score
    assert stored(fresh_store) == before


def test_another_text_under_the_same_token_is_refused(drills: Drills, fresh_store: Store) -> None:
    """What was stored first stays; the other text is told to be still in its field."""
    done = answered(drills, exercise())
    assert done.attempt.token is not None
    before = stored(fresh_store)
    with pytest.raises(DrillReplaced, match="stays in the field"):
        submit(drills, KEY, SONG, token=done.attempt.token)
    drills.begin(exercise(2))
    with pytest.raises(DrillReplaced, match="stays in the field"):
        submit(drills, exercise(2).id, TEXT, token=done.attempt.token)
    after = stored(fresh_store)
    assert {name: rows for name, rows in after.items() if name not in ("drills", "exercises")} == {
        name: rows for name, rows in before.items() if name not in ("drills", "exercises")
    }


def test_submitted_at_once_it_is_stored_once(two_stores: tuple[Store, Store], clock: Clock) -> None:
    """Threads and programs that submit under one token at once make one attempt."""
    learner = two_stores[0].learners.add("Wren Halloway", NOW)
    windows = [Drills(store, learner, clock) for store in two_stores]
    token = windows[0].begin(exercise()).token
    windows[0].listen(KEY)
    with ThreadPoolExecutor(4) as pool:
        done = list(pool.map(lambda each: submit(each, KEY, TEXT, token=token), windows * 4))
    assert len({each.attempt for each in done}) == 1
    assert two_stores[1].attempts.count(learner) == 1
    assert rating_state(two_stores[1], learner).attempts == 1
    bars = {day.skill: day.bars for day in two_stores[1].progress.skills(learner)}
    assert bars["meter 4/4"] == 4


def test_of_two_texts_at_once_one_is_stored(two_stores: tuple[Store, Store], clock: Clock) -> None:
    """Of windows that submit other texts under one token one gets a result, the rest are told."""
    learner = two_stores[0].learners.add("Wren Halloway", NOW)
    windows = [Drills(store, learner, clock) for store in two_stores]
    token = windows[0].begin(exercise()).token

    def run(number: int) -> str | None:
        try:
            submit(windows[number % 2], KEY, f"{TEXT} {number}", token=token)
        except DrillReplaced:
            return None
        return f"{TEXT} {number}"

    with ThreadPoolExecutor(4) as pool:
        (kept,) = [text for text in pool.map(run, range(1, 7)) if text is not None]
    (record,) = two_stores[0].attempts.history(learner)
    detail = two_stores[0].attempts.get(record.id)
    assert detail is not None
    assert detail.answer_text == kept


@pytest.mark.parametrize("statement", WRITTEN.values(), ids=WRITTEN)
def test_a_fault_in_the_middle_leaves_all_as_it_was(
    fresh_store: Store, drills: Drills, statement: str
) -> None:
    """Wherever storing breaks off, no row is changed, and the same submission works afterwards."""
    given = DailySets(drills, load_course()).next()
    assert given is not None
    key, token = given.drill.record.key, given.drill.token
    text = shown(given.drill.exercise).replace("1", "4", 1)
    drills.listen(key)
    drills.keep_text(key, text, stamps="[[2,1.0]]")
    before = stored(fresh_store)

    def break_off(connection: Any, cursor: Any, said: str, *_: Any) -> None:
        if said.startswith(statement):
            raise RuntimeError("the power went")

    engine = fresh_store._database.engine
    event.listen(engine, "after_cursor_execute", break_off)
    with pytest.raises(RuntimeError, match="the power went"):
        submit(drills, key, text, token=token)
    event.remove(engine, "after_cursor_execute", break_off)

    assert stored(fresh_store) == before
    done = submit(drills, key, text, token=token)
    assert fresh_store.attempts.count(drills.learner) == 1
    assert rating_state(fresh_store, drills.learner).attempts == 1
    item = fresh_store.sets.get(drills.learner, given.item.id)
    assert item is not None
    assert item.status == "done"
    assert done.attempt.listens == 1


def test_a_learner_deleted_meanwhile_is_told(drills: Drills, fresh_store: Store) -> None:
    """Submitting for a learner who is gone says so, or that there is no such drill any more."""
    drill = drills.begin(exercise())
    fresh_store.learners.delete(drills.learner)
    with pytest.raises((StoreError, DrillReplaced), match=r"deleted meanwhile|stays in the field"):
        submit(drills, KEY, TEXT, token=drill.token)


def test_a_clock_set_back_loses_nothing(drills: Drills, clock: Clock) -> None:
    """An attempt that would end before it began is stored as begun when it ended."""
    drill = drills.begin(exercise())
    clock.pass_(hours=-2)
    done = submit(drills, KEY, TEXT, token=drill.token)
    assert done.attempt.started_at == done.attempt.finished_at == clock.now
    assert done.attempt.duration_s == 0


def test_an_answer_without_a_bar_is_stored(drills: Drills) -> None:
    """A text in which no bar could be read has a result like any other."""
    done = answered(drills, exercise(), "Verse 1:\n")
    assert (done.attempt.score, done.answer.chart) == (0.0, None)
    assert done.report.advice


def test_a_listen_begun_while_an_answer_is_graded_counts(
    drills: Drills, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What another page does between the grading and the storing is in the attempt."""
    drill = drills.begin(exercise())
    drills.listen(drill.record.key)
    others = iter([lambda: drills.listen(KEY, 80), lambda: drills.heard(KEY, 2.0, paused=True)])

    def grade_slowly(*charts: Any, **how: Any) -> Report:
        for other in others:
            other()
        return grade(*charts, **how)

    monkeypatch.setattr(submission, "grade", grade_slowly)
    attempt = submit(drills, drill.record.key, TEXT, token=drill.token).attempt
    assert (attempt.listens, attempt.paused, attempt.tempo_ratio) == (2, True, 0.8)
