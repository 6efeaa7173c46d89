"""Attempts read back."""

from __future__ import annotations

import re

import pytest

from tests.drill.evening import answered, shown
from tests.store.samples import NOW, TEXT, exercise
from trainer.drill import Drills, find_result, passed_levels
from trainer.exercise import load_course, make_exercise
from trainer.practice import speed_test
from trainer.store import Store


def test_a_result_is_read_back(drills: Drills) -> None:
    """An attempt has its exercise, its answer read from the text, its report and its bars."""
    done = answered(drills, exercise())
    result = find_result(drills.store, drills.learner, done.attempt.id)
    assert result is not None
    assert result.detail.record == done.attempt
    assert result.exercise == exercise()
    assert result.answer == done.answer
    assert result.answer.text == TEXT
    assert result.detail.report["score"] == done.report.score
    assert not result.is_speed_test


@pytest.mark.parametrize("number", [0, -1, 2**63, 10**30])
def test_there_is_no_such_result(drills: Drills, number: int) -> None:
    """A number that no attempt has, however large, finds nothing."""
    answered(drills, exercise())
    assert find_result(drills.store, drills.learner, number) is None


def test_others_results_are_not_shown(drills: Drills, fresh_store: Store) -> None:
    """An attempt is found by the learner who made it alone."""
    done = answered(drills, exercise())
    other = fresh_store.learners.add("Odell Pruitt", NOW)
    assert find_result(fresh_store, other, done.attempt.id) is None


def test_a_level_is_passed_at_its_mark(drills: Drills) -> None:
    """A score at the mark passes, one below does not; what is of no level passes none."""
    level = load_course()[2]
    done = answered(drills, exercise())
    result = find_result(drills.store, drills.learner, done.attempt.id)
    assert result is not None
    assert done.attempt.score < level.pass_mark
    assert result.passed is False
    assert result.verdict is not None
    assert not result.verdict.reached
    whole = answered(drills, exercise(2), shown(exercise(2)))
    passed = find_result(drills.store, drills.learner, whole.attempt.id)
    assert passed is not None
    assert passed.passed is True
    free = answered(drills, exercise(4, level=None))
    of_none = find_result(drills.store, drills.learner, free.attempt.id)
    assert of_none is not None
    assert (of_none.passed, of_none.verdict) == (None, None)
    assert passed_levels(drills.store.attempts.best_by_level(drills.learner)) == {"two-minor"}


def test_a_level_is_not_passed_without_its_skill(drills: Drills) -> None:
    """A whole at the mark whose slashes are all left out passes no level 7, and that is stored."""
    level = load_course()[6]
    song = make_exercise(level.recipe, 1, level)
    text = re.sub(r"/\d(?!/)", "", shown(song).split("\n\n", 1)[1])
    done = answered(drills, song, text)
    assert done.attempt.score >= level.pass_mark
    assert done.attempt.passed is False
    assert done.verdict is not None
    assert [each.skill for each in done.verdict.missing] == ["bass 5/7"]
    best = drills.store.attempts.best_by_level(drills.learner)
    assert best["five-over-seven"].score >= level.pass_mark
    assert passed_levels(best) == frozenset()


def test_why_a_speed_test_does_not_count(drills: Drills) -> None:
    """The reason is told in words, from what is on record of the attempt."""
    reasons = {}
    for number, (listens, paused) in enumerate([(0, False), (1, True), (1, False)]):
        done = answered(drills, speed_test(number), "1 4 5 1", listens=listens, paused=paused)
        result = find_result(drills.store, drills.learner, done.attempt.id)
        assert result is not None
        assert result.is_speed_test
        reasons[listens, paused] = result.why_no_test
    assert reasons == {
        (0, False): "you didn't play the song",
        (1, True): "you paused or stopped the band",
        (1, False): "you wrote no bar after the band began",
    }
