"""Which of several exercises is just hard enough.

How right a bar comes out is the mean over its parts (chords, basses, splits, articulations …), as
its score is; the exercise chosen is the one expected nearest to `TARGET`. About 85 % right is
best for learning in the model of Wilson, Shenhav, Straccia & Cohen 2019 (Nature Communications
10:4646), which was derived for answers of two kinds: here it is a design target, not a proof.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from math import exp, pi, sqrt

from trainer.exercise import Exercise, bar_skills
from trainer.practice.catalogue import PARTS, kind_of
from trainer.practice.rating import LearnerState, rating
from trainer.practice.situation import bar_features, exercise_situation

__all__ = [
    "TARGET",
    "Prediction",
    "Predictions",
    "Profile",
    "nearest",
    "profile_of",
]

TARGET = 0.85
LONGEST = 5.0
MINUTES_TO_READ = 0.3
# Passes that a learner takes where as many are allowed as wanted (common practice, no source).
PASSES = 2.5
# As near to the target as makes no difference.
NEAR = 0.05
# How much more a skill aimed at counts than one met by the way.
AIMED = 1.5
EIGHTH_PI = pi / 8

Bar = tuple[tuple[float, ...], frozenset[str]]


@dataclass(frozen=True, slots=True)
class Profile:
    """What an exercise asks: its different bars with how often they come, and how long it takes.

    A bar is its features and all of its skills.
    """

    bars: tuple[tuple[Bar, int], ...]
    minutes: float

    @property
    def count(self) -> int:
        """How many bars it has."""
        return sum(count for _, count in self.bars)

    def share_of(self, skills: Iterable[str]) -> float:
        """The share of bars that have one of these skills."""
        wanted = frozenset(skills)
        having = sum(count for (_, has), count in self.bars if not wanted.isdisjoint(has))
        return having / self.count


def profile_of(exercise: Exercise) -> Profile:
    """The profile of an exercise."""
    situation = exercise_situation(exercise)
    skills = bar_skills(exercise.chart)
    bars = Counter((bar_features(each, situation), each) for each in skills)
    chart = exercise.chart
    seconds = sum(
        60.0 * float(bar.meter.quarters) / (chart.tempo * float(chart.meter.pulse_quarters))
        for bar in chart.bars()
    )
    passes = min(exercise.listens or PASSES, PASSES)
    return Profile(tuple(bars.items()), MINUTES_TO_READ + seconds * passes / 60)


@dataclass(frozen=True, slots=True)
class Prediction:
    """What is to be expected of an exercise: how much comes out right, and what it may teach.

    `worth` sums over all parts of all bars how much is still to learn (one less the chance in a
    plain bar) times the chance that it is heard here, a minute; skills aimed at count `AIMED`-fold.
    """

    right: float
    worth: float


class Predictions:
    """Looks at one exercise after another for the same learner at the same moment."""

    def __init__(self, state: LearnerState, now: datetime | None = None) -> None:
        self._state, self._now = state, now
        self._ratings: dict[str, tuple[float, float, float, bool]] = {}
        self._shifts: dict[tuple[float, ...], tuple[float, float]] = {}

    def of(self, profile: Profile, aimed: frozenset[str] = frozenset()) -> Prediction:
        """What is to be expected of an exercise."""
        total = worth = 0.0
        for (features, skills), count in profile.bars:
            shift, spread = self._shift(features)
            right, parts = 0.0, 0
            for skill in skills:
                mean, variance, room, is_part = self._rating(skill)
                heard = _sigmoid((mean - shift) / sqrt(1 + EIGHTH_PI * (variance + spread)))
                worth += room * heard * count * (AIMED if skill in aimed else 1)
                if is_part:
                    right += heard
                    parts += 1
            total += right / parts * count if parts else count
        return Prediction(total / profile.count, worth / profile.minutes)

    def _rating(self, skill: str) -> tuple[float, float, float, bool]:
        """Mean and variance of a skill's rating, what is still to learn, whether it is a part."""
        found = self._ratings.get(skill)
        if found is None:
            mean, variance = rating(self._state, skill, self._now)
            room = 1 - _sigmoid(mean / sqrt(1 + EIGHTH_PI * variance))
            found = mean, variance, room, kind_of(skill) in PARTS
            self._ratings[skill] = found
        return found

    def _shift(self, features: tuple[float, ...]) -> tuple[float, float]:
        """How much harder features make a bar, with the variance of that."""
        found = self._shifts.get(features)
        if found is None:
            shift = spread = 0.0
            for weight, value in zip(self._state.weights, features, strict=False):
                shift += weight.mean * value
                spread += weight.variance * value * value
            found = self._shifts[features] = shift, spread
        return found


def _sigmoid(h: float) -> float:
    return 1 / (1 + exp(-h))


def nearest(
    predictions: Predictions,
    profiles: Sequence[Profile],
    aimed: Iterable[str] = (),
    target: float = TARGET,
    longest: float = LONGEST,
) -> tuple[int, Prediction]:
    """The place of the profile to take, and what is to be expected of it.

    Of those within `NEAR` of the target, or of the nearest to it, the one that may teach most;
    those longer than `longest` minutes only where there is no other.
    """
    skills = frozenset(aimed)
    found = [predictions.of(profile, skills) for profile in profiles]
    short = [place for place, profile in enumerate(profiles) if profile.minutes <= longest]
    places = short or range(len(profiles))
    reach = max(NEAR, min(abs(found[place].right - target) for place in places) + 1e-9)
    near = [place for place in places if abs(found[place].right - target) <= reach]
    best = max(near, key=lambda place: found[place].worth)
    return best, found[best]
