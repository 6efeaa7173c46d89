"""Lessons as a learner goes through them: five questions, each answered once, kept as practice."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.drill.evening import Clock
from tests.lessons import made_lesson
from tests.store.samples import NOW
from trainer.drill import (
    Drills,
    answer_question,
    begin_questions,
    find_run,
    import_record,
    is_finished,
    lesson_records,
    next_question,
    offered_lessons,
    play_example,
    play_question,
    rating_state,
    run_questions,
    totals,
)
from trainer.errors import SettingsError
from trainer.exercise import QUESTIONS, load_course
from trainer.store import LessonRun, Store

LESSON = made_lesson()


def run_through(drills: Drills, wrong: int = 0, seed: int = 5) -> LessonRun:
    """A whole run, the last `wrong` questions of it answered wrongly."""
    run = begin_questions(drills, LESSON, seed)
    for question in run_questions(LESSON, run):
        is_wrong = question.number > QUESTIONS - wrong
        choice = 1 - question.right if is_wrong else question.right
        run = answer_question(drills, LESSON, run, question.number, choice)
    return run


def test_five_questions_are_answered_one_after_another(drills: Drills, clock: Clock) -> None:
    """Each answer is stored with what was played; the fifth ends the run."""
    run = begin_questions(drills, LESSON, 5)
    assert find_run(drills, run.id) == run
    for number in range(1, QUESTIONS + 1):
        question = next_question(LESSON, run)
        assert question is not None
        assert question.number == number
        clock.pass_(minutes=1)
        run = answer_question(drills, LESSON, run, number, 0)
        played = LESSON.choices[question.right].name
        assert run.answers[-1] == (played, "5/7")
        assert run.answered_at == clock.now
    assert is_finished(run)
    assert next_question(LESSON, run) is None
    assert find_run(drills, run.id) == run


def test_the_first_answer_stays(drills: Drills) -> None:
    """A question that is answered again, by a second window or a reload, changes nothing."""
    run = begin_questions(drills, LESSON, 5)
    first = answer_question(drills, LESSON, run, 1, 0)
    assert answer_question(drills, LESSON, run, 1, 1) == first
    assert find_run(drills, run.id) == first


@pytest.mark.parametrize(
    ("number", "choice", "told"),
    [
        (2, 0, "question: found 2, expected question 1 next"),
        (0, 0, "question: found 0, expected question 1 next"),
        (1, 2, "answer: found 2, expected one of the choices 5/7, 5"),
        (1, -1, "answer: found -1, expected one of the choices 5/7, 5"),
    ],
)
def test_what_is_no_answer_is_refused(drills: Drills, number: int, choice: int, told: str) -> None:
    """A question whose turn has not come, or a choice that there is not, is refused by name."""
    run = begin_questions(drills, LESSON, 5)
    with pytest.raises(SettingsError, match=told):
        answer_question(drills, LESSON, run, number, choice)
    assert find_run(drills, run.id) == run


def test_a_finished_run_takes_no_sixth_answer(drills: Drills) -> None:
    """There is no question after the fifth."""
    run = run_through(drills)
    with pytest.raises(SettingsError, match="question: found 6"):
        answer_question(drills, LESSON, run, 6, 0)


def test_another_learners_run_is_not_found(drills: Drills, clock: Clock) -> None:
    """A run belongs to the learner who began it."""
    run = begin_questions(drills, LESSON, 5)
    other = Drills(drills.store, drills.store.learners.add("Other", NOW), clock, NOW.tzinfo)
    assert find_run(other, run.id) is None
    with pytest.raises(SettingsError, match="expected a run of this learner"):
        answer_question(other, LESSON, run, 1, 0)


def test_a_run_goes_on_until_the_day_is_over(drills: Drills, clock: Clock) -> None:
    """A run left on the way goes on the same day; the next day, or when it is finished, a new one
    begins with another seed."""
    run = begin_questions(drills, LESSON, 5)
    run = answer_question(drills, LESSON, run, 1, 0)
    clock.pass_(minutes=5)
    assert begin_questions(drills, LESSON, 6) == run
    clock.pass_(days=1)
    fresh = begin_questions(drills, LESSON, 7)
    assert (fresh.seed, fresh.answers, fresh.day) == (7, (), drills.today)
    clock.pass_(minutes=1)
    finished = run_through(drills, seed=8)
    assert finished.id == fresh.id
    clock.pass_(minutes=1)
    assert begin_questions(drills, LESSON, 9).id != finished.id


def test_what_was_done_in_lessons_is_summed_up(drills: Drills, clock: Clock) -> None:
    """Answers and right answers count over all runs; the best run is the best that was finished."""
    assert lesson_records(drills.store, drills.learner) == {}
    begin_questions(drills, LESSON, 1)
    assert lesson_records(drills.store, drills.learner) == {}
    run_through(drills, wrong=2)
    clock.pass_(minutes=1)
    run_through(drills, wrong=1)
    clock.pass_(minutes=1)
    left = begin_questions(drills, LESSON, 4)
    question = next_question(LESSON, left)
    assert question is not None
    answer_question(drills, LESSON, left, 1, question.right)
    record = lesson_records(drills.store, drills.learner)[LESSON.id]
    assert (record.answered, record.right, record.best) == (11, 8, 4)
    assert (record.is_done, record.last_at) == (True, clock.now)


def test_quick_questions_are_practice_alone(drills: Drills) -> None:
    """Answers change no rating, no sum of a day and no set."""
    before = rating_state(drills.store, drills.learner)
    run_through(drills)
    assert rating_state(drills.store, drills.learner) == before
    assert totals(drills.store.progress.days(drills.learner)).exercises == 0
    assert drills.store.sets.of_day(drills.learner, drills.today) == ()


def test_a_level_offers_its_lessons_until_they_are_done(drills: Drills) -> None:
    """Lessons of what a level introduces are offered, each once, and no more when all five
    questions were answered, right or wrong."""
    course = load_course()
    levels = [level for level in course if "bass 5/7" in level.introduced]
    other = replace(LESSON, id="push", teaches=("push",))
    lessons = (LESSON, other)

    def offered() -> list[str]:
        found = offered_lessons(drills.store, drills.learner, lessons, levels * 2)
        return [lesson.id for lesson in found]

    assert offered() == [LESSON.id]
    answer_question(drills, LESSON, begin_questions(drills, LESSON, 2), 1, 0)
    assert offered() == [LESSON.id]
    run_through(drills, wrong=4)
    assert offered() == []


def test_the_band_plays_what_is_asked(drills: Drills) -> None:
    """A question plays its right choice; any other choice has the same bars at the same times."""
    run = begin_questions(drills, LESSON, 5)
    question = run_questions(LESSON, run)[0]
    played, right, wrong = (
        play_question(question, choice) for choice in (None, question.right, 1 - question.right)
    )
    assert played == right
    assert played.bar_times_s == wrong.bar_times_s
    assert played.parts != wrong.parts
    assert {part.name for part in played.parts} == {
        "count-off",
        "guitar",
        "bass",
        "drums",
        "voice",
    }
    examples = [play_example(LESSON, choice) for choice in (0, 1)]
    assert examples[0].bar_times_s == examples[1].bar_times_s
    assert examples[0] == play_example(LESSON, 0)


@pytest.fixture
def other_store(record: Path) -> Iterator[Store]:
    """An empty store elsewhere."""
    with Store(record) as store:
        yield store


def test_lessons_come_in_with_an_import_once(drills: Drills, other_store: Store) -> None:
    """Runs are taken in with the rest of a record, and importing twice adds nothing."""
    run = run_through(drills, wrong=1)
    data = json.loads(json.dumps(drills.store.transfer.export_json(drills.learner)))
    done = import_record(other_store, data)
    assert (done.added, done.lessons) == (0, 1)
    found = other_store.lesson_runs.all(done.learner)
    assert [replace(each, id=run.id) for each in found] == [run]
    again = import_record(other_store, data)
    assert (again.added, again.lessons) == (0, 0)
    assert len(other_store.lesson_runs.all(done.learner)) == 1
