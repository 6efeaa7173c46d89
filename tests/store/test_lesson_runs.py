"""Goes at the quick questions of lessons, as they are kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from tests.store.samples import NOW
from trainer.store import Learner, NewLessonRun, Store

RUN = NewLessonRun("five-over-seven", 17, NOW.date(), NOW, "1")
LATER = NOW + timedelta(minutes=1)


def test_a_run_is_kept_answer_by_answer(fresh_store: Store, learner: Learner) -> None:
    """What was played and chosen stands in order, with the moment of the last answer."""
    runs = fresh_store.lesson_runs
    begun = runs.add(learner, RUN)
    assert (begun.answers, begun.answered_at, begun.right) == ((), None, 0)
    first = runs.answer(begun, "5/7", "5/7", NOW)
    second = runs.answer(first, "5", "5/7", LATER)
    assert second.answers == (("5/7", "5/7"), ("5", "5/7"))
    assert (second.right, second.answered_at) == (1, LATER)
    assert (second.lesson, second.seed, second.day, second.started_at) == (
        RUN.lesson,
        RUN.seed,
        RUN.day,
        NOW,
    )
    assert runs.find(learner, begun.id) == second
    assert runs.all(learner) == (second,)


def test_the_newest_run_of_a_lesson_is_found(fresh_store: Store, learner: Learner) -> None:
    """Of several runs the one that began last is the newest; other lessons do not count."""
    runs = fresh_store.lesson_runs
    assert runs.newest(learner, RUN.lesson) is None
    newer = runs.add(learner, replace(RUN, started_at=LATER))
    older = runs.add(learner, RUN)
    other = runs.add(learner, replace(RUN, lesson="hold"))
    assert runs.newest(learner, RUN.lesson) == newer
    assert runs.all(learner) == (older, other, newer)


def test_the_same_run_is_kept_once(fresh_store: Store, learner: Learner) -> None:
    """A run of the same lesson and moment stays as it was kept first."""
    runs = fresh_store.lesson_runs
    answered = replace(RUN, answers=(("5", "5"),), answered_at=LATER)
    first = runs.add(learner, answered)
    assert runs.add(learner, RUN) == first
    assert runs.all(learner) == (first,)


def test_runs_belong_to_their_learner(fresh_store: Store, learner: Learner) -> None:
    """Nobody finds another learner's run, and it goes when the learner is deleted."""
    other = fresh_store.learners.add("Other", NOW)
    run = fresh_store.lesson_runs.add(learner, RUN)
    own = fresh_store.lesson_runs.add(other, RUN)
    assert fresh_store.lesson_runs.find(other, run.id) is None
    fresh_store.learners.delete(learner)
    assert fresh_store.lesson_runs.all(learner) == ()
    assert fresh_store.lesson_runs.all(other) == (own,)
