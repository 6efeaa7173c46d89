from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from itertools import pairwise
from math import erf, log, sqrt
from statistics import fmean

import pytest

from trainer.practice.simulate import __main__ as command
from trainer.practice.simulate.learners import KINDS, draw_learner, ogive
from trainer.practice.simulate.policies import POLICIES
from trainer.practice.simulate.pool import Pool, make_pool
from trainer.practice.simulate.run import measure, reliability, run_practice


@pytest.fixture(scope="module")
def pool() -> Pool:
    """The exercises of the simulation."""
    return make_pool()


def test_the_ogive_is_the_normal_distributions() -> None:
    """The learners answer by Φ, here against the standard library's erf."""
    for x in (-2.0, -0.5, 0.0, 1.0, 1.96):
        assert ogive(x) == pytest.approx(0.5 * (1 + erf(x / sqrt(2))))


# The first to use the pool, which takes long to make.
@pytest.mark.many
def test_a_learner_is_drawn_the_same_again(pool: Pool) -> None:
    """The same seed gives the same learner and the same days."""
    one, two = (run_practice("as published", "daily set", pool, 3, "7") for _ in range(2))
    assert (one.gain, one.right) == (two.gain, two.right)
    assert one.state == two.state


def test_practice_teaches_and_time_takes(pool: Pool) -> None:
    """Answering raises what is true of a learner, and it fades from day to day, by a power."""
    learner = draw_learner("as published", pool.skills, random.Random(1))
    before = learner.ability("chord 4", 0.0)
    for _ in range(10):
        learner.answer(pool.mixed[0], 0.0)
    abilities = [learner.ability("chord 4", day) for day in (0.0, 1.0, 5.0, 25.0)]
    assert abilities == sorted(abilities, reverse=True)
    assert abilities[-1] > before
    drops = [a - b for a, b in pairwise(abilities)]
    assert drops[0] > drops[1] / 4 > drops[2] / 80


@pytest.mark.many
@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_learner_gets_on_with_every_policy(kind: str, pool: Pool) -> None:
    """Each policy gives each kind of learner about ten minutes a day, and something is learnt."""
    for policy in POLICIES:
        course = run_practice(kind, policy, pool, 3, "1")
        assert {day for day, _, _ in course.right} == {0, 1, 2}
        assert course.gain > 0


def test_a_perfect_prediction_meets_the_bound() -> None:
    """Reliability puts expected and actual side by side, bin by bin."""
    made = [(0.15, 0.15, 0.0), (0.15, 0.15, 1.0), (0.95, 0.95, 1.0)]
    assert reliability(made) == [
        {"from": 0.1, "parts": 2, "expected": 0.15, "actual": 0.5},
        {"from": 0.9, "parts": 1, "expected": 0.95, "actual": 1.0},
    ]


@pytest.mark.many
def test_predictions_are_near_the_truth(pool: Pool) -> None:
    """After some days of a few learners the Brier score is within a tenth of the bound."""
    courses = [
        run_practice("as published", "daily set", pool, 10, f"small {n}", predicting=True)
        for n in range(4)
    ]
    found = measure(courses, 10)
    assert 0 < found["brier_over_bound"] < 0.1
    assert 0.75 < found["accuracy_after_first_week"] < 0.95
    errors = [abs(expected - true) for c in courses for expected, true, _ in c.predicted]
    assert fmean(errors) < 0.1
    assert log(2) > found["brier"]


def test_the_command_prints_json(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """`python -m trainer.practice.simulate --json` prints the figures of every kind."""
    line = ["simulate", "--learners", "1", "--days", "2", "--seed", "3", "--json"]
    monkeypatch.setattr(sys, "argv", line)
    command.main()
    found = json.loads(capsys.readouterr().out)
    assert set(found["kinds"]) == set(KINDS)
    main = found["kinds"]["as published"]
    assert set(main["gain_logits"]) == set(POLICIES)


SUMS = """
from datetime import UTC, datetime
from trainer.exercise import load_course, make_exercise
from trainer.practice import LearnerState
from trainer.practice.choice import Predictions, exercise_profile
predictions = Predictions(LearnerState.fresh(), datetime(2026, 3, 2, tzinfo=UTC))
for level in load_course()[10:]:
    profile = exercise_profile(make_exercise(level.recipe, 1, level))
    print(profile.bars, predictions.of(profile))
"""


def test_predictions_do_not_depend_on_how_a_process_hashes() -> None:
    """The sums over a bar's skills are the same to the last digit in every process."""
    said = [
        subprocess.run(
            [sys.executable, "-c", SUMS],
            env=os.environ | {"PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    ]
    assert said[0].count(b"\n") > 10
    assert said[0] == said[1]


def test_the_command_refuses_no_learners() -> None:
    """The command wants one learner and one day at least, and says so."""
    line = [sys.executable, "-m", "trainer.practice.simulate", "--learners", "0"]
    wrong = subprocess.run(line, capture_output=True, check=False)
    assert wrong.returncode == 2
    assert b"expected 1 or more" in wrong.stderr


@pytest.mark.many
@pytest.mark.slow
def test_the_targets_are_met() -> None:
    """Twenty learners over thirty days: ratings, calibration, accuracy and gain as aimed at.

    With fewer learners the gain over random comes out anywhere from a tenth to a fifth.
    """
    found = command.simulate(20, 30, 5, ["as published"])["kinds"]["as published"]
    assert found["rating_error_logits"] < 0.5
    assert found["brier_over_bound"] < 0.05
    assert 0.8 <= found["accuracy_after_first_week"] <= 0.9
    assert found["gain_over"]["random"] >= 0.15
    assert min(found["gain_over"].values()) > 0
