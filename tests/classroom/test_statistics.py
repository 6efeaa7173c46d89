"""The statistics against scipy.stats (`pointbiserialr`, `binomtest`) and pandas (`corr`)."""

from __future__ import annotations

import random

import pandas as pd
import pytest
from scipy.stats import binomtest, pearsonr, pointbiserialr

from trainer.classroom.statistics import (
    ENOUGH,
    fisher_interval,
    item_statistics,
    point_biserial,
    wilson_interval,
)


@pytest.mark.parametrize("seed", range(20))
def test_point_biserial_is_that_of_scipy_and_pandas(seed: int) -> None:
    """The correlation is that of scipy.stats.pointbiserialr and of pandas' corr."""
    rng = random.Random(seed)
    right = [rng.random() < 0.6 for _ in range(30)]
    scores = [min(1.0, max(0.0, rng.gauss(0.6 + 0.1 * was, 0.2))) for was in right]
    found = point_biserial(right, scores)
    assert found == pytest.approx(pointbiserialr(right, scores).statistic, abs=1e-12)
    frame = pd.DataFrame({"right": [float(was) for was in right], "score": scores})
    assert found == pytest.approx(frame["right"].corr(frame["score"]), abs=1e-12)


@pytest.mark.parametrize(("right", "count"), [(0, 9), (9, 9), (5, 9), (17, 30), (1, 200)])
def test_the_interval_of_a_share_is_wilsons(right: int, count: int) -> None:
    """The ends are those of scipy.stats.binomtest's method "wilson"."""
    wanted = binomtest(right, count).proportion_ci(0.95, method="wilson")
    assert wilson_interval(right, count) == pytest.approx((wanted.low, wanted.high), abs=1e-12)


def test_the_interval_of_a_correlation_is_fishers() -> None:
    """The ends are those that scipy.stats.pearsonr gives by Fisher's z."""
    rng = random.Random(4)
    scores = [rng.random() for _ in range(25)]
    other = [score + rng.random() for score in scores]
    found = pearsonr(scores, other)
    wanted = found.confidence_interval(0.95)
    ends = fisher_interval(float(found.statistic), 25)
    assert ends == pytest.approx((wanted.low, wanted.high), abs=1e-12)


def test_few_answers_say_nothing() -> None:
    """Under `ENOUGH` answers there are counts and a mean, and a sentence in place of the rest."""
    found = item_statistics([1.0, 0.5] * 3, [0.5] * 6, 0.8)
    assert (found.answers, found.right, found.mean) == (6, 3, 0.75)
    assert found.p is None
    assert found.discrimination is None
    assert found.why == f"Too few to say: 6 of at least {ENOUGH} answers."
    assert item_statistics([], [], 0.8).mean is None


@pytest.mark.parametrize(
    ("scores", "rest", "why"),
    [
        ([1.0] * 9, [0.1 * k for k in range(9)], "Everyone got it right."),
        ([0.0] * 9, [0.1 * k for k in range(9)], "No one got it right."),
        ([1.0, *[0.0] * 8], [0.5] * 9, "Everyone has the same score in the other songs."),
        ([1.0, *[0.0] * 8], None, "With one song there's nothing to compare it with."),
    ],
)
def test_what_cannot_be_told_is_said(
    scores: list[float], rest: list[float] | None, why: str
) -> None:
    """Without a difference there is a p-value, no correlation, and the reason in words."""
    found = item_statistics(scores, rest, 0.8)
    assert found.p is not None
    assert (found.discrimination, found.why) == (None, why)


def test_a_score_at_the_mark_is_right() -> None:
    """A sum of fractions that falls short of the mark by rounding alone is right."""
    scores = [0.1 + 0.7] * 8
    assert item_statistics(scores, None, 0.8).right == 8
    assert item_statistics([0.8 - 1e-6] * 8, None, 0.8).right == 0


def test_one_answer_correlates_with_nothing() -> None:
    """A correlation needs two answers that differ."""
    assert point_biserial([True], [0.5]) is None
    assert point_biserial([True, False], [0.5, 0.5]) is None
    assert point_biserial([True, False], [1.0, 0.0]) == pytest.approx(1.0)
