"""Predictions for exercises, and the choice of the one that is just difficult enough.

The score of a bar is predicted as the mean over its parts (chords, basses, splits, articulations
…); the exercise chosen is the one whose predicted score is nearest to `TARGET`. About 85% right
is best for learning in the model of Wilson, Shenhav, Straccia & Cohen 2019 (Nature Communications
10:4646), which was derived for answers of two kinds. Here it is a design target and proves nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import exp, pi, sqrt

from trainer.exercise import Exercise, bar_skills
from trainer.practice.catalogue import COMPONENT_KINDS, kind_of
from trainer.practice.rating import LearnerState, rating
from trainer.practice.situation import bar_features, exercise_situation

__all__ = [
    "TARGET",
    "ExerciseProfile",
    "Prediction",
    "Predictions",
    "best_profile",
    "exercise_profile",
    "expected_score",
]

TARGET = 0.85
MOST_MINUTES = 5.0
READING_MINUTES = 0.3
# How often a song is heard where listens are not limited (common practice, no source).
UNLIMITED_PASSES = 2.5
# Predicted scores that differ from the target by less count as equally near.
TOLERANCE = 0.05
# The weight of a skill that is aimed at; that of others is 1.
AIM_WEIGHT = 1.5
EIGHTH_PI = pi / 8

Bar = tuple[tuple[float, ...], tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class ExerciseProfile:
    """What an exercise asks: its different bars with their numbers, and the minutes it takes.

    A bar is given by its features (`situation.FEATURES`) and its skills in alphabetical order, so
    that sums over them are the same in every process.
    """

    bars: tuple[tuple[Bar, int], ...]
    minutes: float

    @property
    def count(self) -> int:
        """The number of bars."""
        return sum(count for _, count in self.bars)


def exercise_profile(exercise: Exercise) -> ExerciseProfile:
    """The profile of an exercise."""
    situation = exercise_situation(exercise)
    skills = bar_skills(exercise.chart)
    bars = Counter((bar_features(each, situation), tuple(sorted(each))) for each in skills)
    chart = exercise.chart
    seconds = sum(
        60.0 * float(bar.meter.quarters) / (chart.tempo * float(chart.meter.pulse_quarters))
        for bar in chart.bars()
    )
    passes = min(exercise.listens or UNLIMITED_PASSES, UNLIMITED_PASSES)
    return ExerciseProfile(tuple(bars.items()), READING_MINUTES + seconds * passes / 60)


@dataclass(frozen=True, slots=True)
class Prediction:
    """What is predicted for an exercise.

    `score` is the predicted score, 0 to 1. `gain` is a measure of what may be learnt in a minute:
    the sum over all parts of all bars of what is still to learn (1 less the probability in an
    ordinary bar) times the probability that it is heard here; skills aimed at count
    `AIM_WEIGHT`-fold.
    """

    score: float
    gain: float


class Predictions:
    """Predictions for many exercises, for one learner at one moment."""

    def __init__(self, state: LearnerState, now: datetime | None = None) -> None:
        self._state, self._now = state, now
        self._ratings: dict[str, tuple[float, float, float, bool]] = {}
        self._shifts: dict[tuple[float, ...], tuple[float, float]] = {}

    def of(self, profile: ExerciseProfile, aimed: frozenset[str] = frozenset()) -> Prediction:
        """The prediction for an exercise; `aimed` are the skills it is aimed at."""
        total = gain = 0.0
        for (features, skills), count in profile.bars:
            shift, spread = self._shift(features)
            right, parts = 0.0, 0
            for skill in skills:
                mean, variance, room, is_part = self._rating(skill)
                heard = _sigmoid((mean - shift) / sqrt(1 + EIGHTH_PI * (variance + spread)))
                gain += room * heard * count * (AIM_WEIGHT if skill in aimed else 1)
                if is_part:
                    right += heard
                    parts += 1
            total += right / parts * count if parts else count
        return Prediction(total / profile.count, gain / profile.minutes)

    def _rating(self, skill: str) -> tuple[float, float, float, bool]:
        """Mean and variance of a skill's rating, what is still to learn, whether it is a part."""
        found = self._ratings.get(skill)
        if found is None:
            mean, variance = rating(self._state, skill, self._now)
            room = 1 - _sigmoid(mean / sqrt(1 + EIGHTH_PI * variance))
            found = mean, variance, room, kind_of(skill) in COMPONENT_KINDS
            self._ratings[skill] = found
        return found

    def _shift(self, features: tuple[float, ...]) -> tuple[float, float]:
        """How much more difficult features make a bar, in logits, with the variance."""
        found = self._shifts.get(features)
        if found is None:
            shift = spread = 0.0
            for weight, value in zip(self._state.weights, features, strict=False):
                shift += weight.mean * value
                spread += weight.variance * value * value
            found = self._shifts[features] = shift, spread
        return found


def expected_score(exercise: Exercise) -> float:
    """The score (0 to 1) predicted for a learner of whom nothing is known: how easy an exercise
    is."""
    return Predictions(LearnerState.fresh()).of(exercise_profile(exercise)).score


def _sigmoid(h: float) -> float:
    return 1 / (1 + exp(-h))


def best_profile(
    predictions: Predictions,
    profiles: Sequence[ExerciseProfile],
    aimed: Iterable[str] = (),
    target: float = TARGET,
    longest: float = MOST_MINUTES,
) -> tuple[int, Prediction]:
    """The index of the profile to take, and its prediction.

    Among those within `TOLERANCE` of the target, or else those nearest to it, it is the one with
    the highest gain; those longer than `longest` minutes are taken only where there is no other.
    """
    skills = frozenset(aimed)
    found = [predictions.of(profile, skills) for profile in profiles]
    short = [at for at, profile in enumerate(profiles) if profile.minutes <= longest]
    possible = short or range(len(profiles))
    reach = max(TOLERANCE, min(abs(found[at].score - target) for at in possible) + 1e-9)
    near = [at for at in possible if abs(found[at].score - target) <= reach]
    best = max(near, key=lambda at: found[at].gain)
    return best, found[best]
