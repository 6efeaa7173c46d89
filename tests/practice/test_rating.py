from __future__ import annotations

import math
import random
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from sklearn.linear_model import LogisticRegression

from tests.practice.samples import NOW, ORDINARY, after, attempt
from trainer.practice.catalogue import difficulty
from trainer.practice.evidence import BarEvidence, Evidence
from trainer.practice.rating import (
    LearnerState,
    Prior,
    Rating,
    kalman_update,
    rating,
    success_probability,
    update_state,
)
from trainer.practice.situation import FEATURES

SKILLS = ("chord 6-", "section start", "feel shuffle")
STILL = Prior(variance_per_bar=0.0, gain_per_bar=0.0, variance_per_day=0.0)


def test_a_step_worked_by_hand() -> None:
    """One right answer moves a rating as reckoned by hand.

    m = 0, v = 1, c = 1: P = 1/2, I = 1/4, 1 + I v = 5/4; so m becomes (1/2) / (5/4) = 0.4 and v
    becomes 1 - (1/4) / (5/4) = 0.8. Next a wrong one: P = 1 / (1 + e^-0.4) = 0.598688,
    I = 0.240261, 1 + I v = 1.192209; m falls by 0.8 · 0.598688 / 1.192209 = 0.401733 to -0.001733,
    v by 0.64 · 0.240261 / 1.192209 = 0.128976 to 0.671024.
    """
    means, variances = [0.0], [1.0]
    assert kalman_update(means, variances, [1.0], 1.0) == 0.5
    assert means == [0.4]
    assert variances == pytest.approx([0.8])
    assert kalman_update(means, variances, [1.0], 0.0) == pytest.approx(0.598688, abs=1e-6)
    assert means == pytest.approx([-0.001733], abs=1e-5)
    assert variances == pytest.approx([0.671024], abs=1e-5)


def test_a_step_shares_out_what_was_unexpected() -> None:
    """Two numbers in one answer move in the ratio of their variances, against their signs.

    By hand: h = 1 - 1 = 0, P = 1/2, I = 1/4, V = 1 + 3 = 4, 1 + I V = 2, surprise = 1/4: the first
    rises by 1 · 1/4, the second, multiplied by -1, falls by 3 · 1/4.
    """
    means, variances = [1.0, 1.0], [1.0, 3.0]
    kalman_update(means, variances, [1.0, -1.0], 1.0)
    assert means == pytest.approx([1.25, 0.25])
    assert variances == pytest.approx([1 - 1 / 8, 3 - 9 / 8])


def test_uncertainty_falls_as_pelaneks() -> None:
    """Where answers carry the same information, K falls as a / (1 + b n) (Pelánek 2016, memory)."""
    variances, gains = [1.0], []
    for _ in range(50):
        means = [0.0]
        before = variances[0]
        gains.append(before / (1 + before / 4))
        kalman_update(means, variances, [1.0], 0.5)
    a, b = 1.0, 0.25
    assert gains == pytest.approx([a / (1 + b * n) for n in range(1, 51)])


def simulated(seed: int, prior: Prior) -> tuple[LearnerState, np.ndarray, np.ndarray]:
    """What the filter makes of 800 bars of three skills, half of them split; the bars as columns.

    The columns are general, the three skills, and the split, which makes a bar harder.
    """
    rng = random.Random(seed)
    assert [difficulty(skill) for skill in SKILLS] == [0.0] * 3
    state = LearnerState.fresh(prior)
    state = replace(state, weights=(Rating(0.0, prior.weight_variance), *state.weights[1:]))
    rows, outcomes = [], []
    for at in range(40):
        bars = []
        for _ in range(20):
            skill, split = rng.choice(SKILLS), float(rng.random() < 0.5)
            true = 0.6 + 0.5 * SKILLS.index(skill) - 0.9 * split
            came_out = float(rng.random() < 1 / (1 + math.exp(-true)))
            bars.append(BarEvidence((split, *ORDINARY[1:]), ((skill, came_out),)))
            rows.append([1.0, *(float(skill == each) for each in SKILLS), -split])
            outcomes.append(came_out)
        state = update_state(state, Evidence(NOW + timedelta(minutes=at), tuple(bars)))
    return state, np.array(rows), np.array(outcomes)


def library_fit(rows: np.ndarray, outcomes: np.ndarray, prior: Prior) -> np.ndarray:
    """scikit-learn's fit of the same posterior, over all bars at once.

    Each column is multiplied by its prior deviation, and the penalty is 1.
    """
    variances = [prior.general_variance, *[prior.own_variance] * 3, prior.weight_variance]
    deviations = np.sqrt(variances)
    model = LogisticRegression(C=1.0, fit_intercept=False, tol=1e-10, max_iter=10_000)
    return model.fit(rows * deviations, outcomes).coef_[0] * deviations


@pytest.mark.parametrize("seed", range(8))
def test_the_filter_comes_to_the_fit_of_a_library(seed: int) -> None:
    """With skills that share nothing, ratings are those of scikit-learn's fit to 0.05 logits."""
    prior = replace(STILL, general_variance=1e-9, weight_variance=1e-9)
    state, rows, outcomes = simulated(seed, prior)
    _, *own, _ = library_fit(rows, outcomes, prior)
    for skill, theirs in zip(SKILLS, own, strict=True):
        assert rating(state, skill).mean == pytest.approx(theirs, abs=0.05)


@pytest.mark.parametrize("seed", range(8))
def test_kept_apart_the_variances_cost_little(seed: int) -> None:
    """With everything shared, chances stay within 0.07 of scikit-learn's fit, which knows how the
    numbers hang together; a rating of the skill and its split bars is what both must give.
    """
    state, rows, outcomes = simulated(seed, STILL)
    general, *own, weight = library_fit(rows, outcomes, STILL)
    for skill, theirs in zip(SKILLS, own, strict=True):
        for split in (0.0, 1.0):
            expected = 1 / (1 + math.exp(-(general + theirs - weight * split)))
            ours = success_probability(state, skill, (split, *ORDINARY[1:]))
            assert ours == pytest.approx(expected, abs=0.07)


def test_a_fresh_learner_is_expected_by_hardness_alone() -> None:
    """Before any attempt the harder skill has the lower rating, and all are unsure."""
    state = LearnerState.fresh()
    easy, hard = rating(state, "chord 1"), rating(state, "chord 4-")
    assert easy.mean > hard.mean
    assert easy.variance == hard.variance == 1.5 + 0.6
    assert 0.5 < success_probability(state, "chord 1") < 1 / (1 + math.exp(-easy.mean))


def test_evidence_moves_the_rating_and_makes_it_surer() -> None:
    """Right bars raise a rating, wrong ones lower it, both make it surer."""
    start = rating(LearnerState.fresh(), "chord 4")
    good = rating(after({0: {"chord 4": [1.0] * 8}}), "chord 4")
    bad = rating(after({0: {"chord 4": [0.0] * 8}}), "chord 4")
    assert bad.mean < start.mean < good.mean
    assert max(bad.variance, good.variance) < start.variance


def test_half_a_credit_is_between() -> None:
    """A partial credit moves a rating less than a full one and more than none."""
    low, middle, high = (
        rating(after({0: {"chord 4": [credit] * 5}}), "chord 4").mean for credit in (0.0, 0.5, 1.0)
    )
    assert low < middle < high


def test_what_was_never_met_starts_at_the_learners_level() -> None:
    """A learner who hears one skill well is expected to hear another better than a beginner."""
    state = after({0: {"chord 4": [1.0] * 20, "chord 5": [1.0] * 20}})
    assert (
        success_probability(state, "chord 2-")
        > success_probability(LearnerState.fresh(), "chord 2-") + 0.1
    )
    assert rating(state, "chord 2-").sd > rating(state, "chord 4").sd


def test_time_makes_unsure_and_what_fades_is_expected_less() -> None:
    """Weeks without a skill widen its rating and lower its chance."""
    state = after({0: {"chord 4": [1.0, 0.5] * 6}})
    later = NOW + timedelta(days=40)
    assert rating(state, "chord 4", later).variance > rating(state, "chord 4", NOW).variance
    assert success_probability(state, "chord 4", (), later) < success_probability(
        state, "chord 4", (), NOW
    )


def test_the_learners_bars_correct_the_weight_of_a_feature() -> None:
    """Someone who fails in split bars alone is expected less there, by more than at first."""
    split = (1.0, *ORDINARY[1:])
    bars = [BarEvidence(ORDINARY, (("chord 4", 1.0),)), BarEvidence(split, (("chord 4", 0.0),))]
    state = LearnerState.fresh()
    for day in range(20):
        state = update_state(state, Evidence(NOW + timedelta(days=day), tuple(bars * 4)))
    assert state.weights[0].mean > FEATURES["split"] + 0.2
    assert (
        success_probability(state, "chord 4", split) < success_probability(state, "chord 4") - 0.2
    )


def test_a_clock_set_back_counts_as_no_time() -> None:
    """An attempt dated before the last one is taken in as if it had followed at once."""
    state = after({5: {"chord 4": [1.0] * 4}})
    shown = {"chord 4": [1.0, 0.0], "chord 5": [1.0]}
    at_once = update_state(state, attempt(shown, NOW + timedelta(days=5)))
    back = update_state(state, attempt(shown, NOW - timedelta(days=300)))
    assert back == at_once
    assert back.last_at == NOW + timedelta(days=5)
    assert success_probability(back, "chord 4", (), NOW - timedelta(days=300)) == pytest.approx(
        success_probability(back, "chord 4", (), NOW + timedelta(days=5))
    )


def test_the_state_given_is_left_as_it_was() -> None:
    """Learning gives a new state; the same attempts from the same start give the same."""
    first = after({0: {"chord 4": [1.0]}})
    before = dict(first.skills)
    one = update_state(first, attempt({"chord 4": [0.0]}, NOW + timedelta(days=1)))
    two = update_state(first, attempt({"chord 4": [0.0]}, NOW + timedelta(days=1)))
    assert one == two
    assert dict(first.skills) == before
