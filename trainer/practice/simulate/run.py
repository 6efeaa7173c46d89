"""Run learners through days of practice and measure what came of it."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from math import sqrt
from statistics import fmean
from typing import Any

from trainer.practice.daily import SET_MINUTES
from trainer.practice.evidence import Evidence
from trainer.practice.rating import LearnerState, rating, success_probability, update_state
from trainer.practice.simulate.learners import SimulatedLearner, draw_learner
from trainer.practice.simulate.policies import POLICIES
from trainer.practice.simulate.pool import Pool

__all__ = ["Trajectory", "measure", "reliability", "run_practice"]

ENOUGH_BARS = 300
START = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
WEEK = 7.0
BINS = 10


@dataclass(slots=True)
class Trajectory:
    """What happened to one learner over the days.

    `gain` is the mean ability gained in the skills of the course on the day after the last, in
    logits; `retained` is what is left of it a week later. `right` holds (day, bars right, bars) of
    each exercise; `predicted` holds (predicted, true probability, outcome) of each part.
    """

    learner: SimulatedLearner
    state: LearnerState
    gain: float = 0.0
    retained: float = 0.0
    right: list[tuple[int, float, int]] = field(default_factory=list)
    predicted: list[tuple[float, float, float]] = field(default_factory=list)


def run_practice(
    kind: str, policy: str, pool: Pool, days: int, seed: str, *, predicting: bool = False
) -> Trajectory:
    """Let one learner practise for some days. A seed gives the same learner under every policy."""
    learner = draw_learner(kind, pool.skills, random.Random(f"learner {seed}"))
    learner.rng = random.Random(f"answers {seed}")
    chooser = POLICIES[policy](pool, random.Random(f"choices {seed}"), days)
    before = fmean(learner.ability(skill, 0.0) for skill in pool.course)
    trajectory = Trajectory(learner, LearnerState.fresh())
    for day in range(days):
        spent = 0.0
        while spent < SET_MINUTES:
            now = START + timedelta(days=day, minutes=spent)
            profile = chooser.choose(trajectory.state, day, now, spent / SET_MINUTES)
            spent += profile.minutes
            answered = learner.answer(profile, day + spent / 1440)
            if predicting:
                trajectory.predicted += _predictions(trajectory.state, answered.parts, now)
            trajectory.right.append((day, answered.right, profile.count))
            if policy not in ("random", "fixed order"):
                at = now + timedelta(minutes=profile.minutes)
                trajectory.state = update_state(
                    trajectory.state, Evidence(at, tuple(answered.bars))
                )
    trajectory.gain = fmean(learner.ability(s, float(days)) for s in pool.course) - before
    trajectory.retained = fmean(learner.ability(s, days + WEEK) for s in pool.course) - before
    return trajectory


def _predictions(
    state: LearnerState, parts: Iterable[tuple[str, tuple[float, ...], float, float]], now: datetime
) -> Iterable[tuple[float, float, float]]:
    """The (predicted probability, true probability, outcome) of each part."""
    seen: dict[tuple[str, tuple[float, ...]], float] = {}
    for skill, features, true, came_out in parts:
        key = skill, features
        if key not in seen:
            seen[key] = success_probability(state, skill, features, now)
        yield seen[key], true, came_out


def measure(trajectories: list[Trajectory], days: int) -> dict[str, Any]:
    """How well estimates, predictions and choices of exercises did over some trajectories."""
    errors = []
    for trajectory in trajectories:
        end = START + timedelta(days=days - 1, hours=1)
        errors += [
            rating(trajectory.state, skill, end).mean
            - trajectory.learner.ability(skill, days - 0.9)
            for skill, each in trajectory.state.skills.items()
            if each.bars >= ENOUGH_BARS
        ]
    predicted = [each for trajectory in trajectories for each in trajectory.predicted]
    brier = fmean((expected - out) ** 2 for expected, _, out in predicted)
    bound = fmean((true - out) ** 2 for _, true, out in predicted)
    weeks = [
        (right, count)
        for trajectory in trajectories
        for day, right, count in trajectory.right
        if day >= WEEK
    ] or [(0, 1)]
    by_learner = [
        sum(r for d, r, _ in c.right if d >= WEEK)
        / max(1, sum(n for d, _, n in c.right if d >= WEEK))
        for c in trajectories
    ]
    return {
        "rating_error_logits": sqrt(fmean(e * e for e in errors)) if errors else None,
        "rating_bias_logits": fmean(errors) if errors else None,
        "skills_measured": len(errors),
        "brier": brier,
        "brier_bound": bound,
        "brier_over_bound": brier / bound - 1,
        "reliability": reliability(predicted),
        "accuracy_after_first_week": sum(r for r, _ in weeks) / sum(n for _, n in weeks),
        "learners_within_80_to_90": fmean(0.8 <= each <= 0.9 for each in by_learner),
    }


def reliability(predicted: Iterable[tuple[float, float, float]]) -> list[dict[str, float]]:
    """Predicted against actual shares in ten bins of the prediction; empty bins are left out."""
    bins: list[list[tuple[float, float]]] = [[] for _ in range(BINS)]
    for expected, _, out in predicted:
        bins[min(int(expected * BINS), BINS - 1)].append((expected, out))
    return [
        {
            "from": place / BINS,
            "parts": len(each),
            "expected": fmean(expected for expected, _ in each),
            "actual": fmean(out for _, out in each),
        }
        for place, each in enumerate(bins)
        if each
    ]
