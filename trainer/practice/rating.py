"""Ratings: how well each skill is heard, in logits, with an uncertainty.

An answer counts as a match between learner and bar (Pelánek 2016, Computers & Education,
doi 10.1016/j.compedu.2016.03.017). The chance that the part of a bar that a skill is about comes
out right is

    P = 1 / (1 + e^-h)      h = general + own[skill] - difficulty[skill] - Σ weight[f] · feature[f]

The rating of a skill is general + own - difficulty: h in an ordinary bar. The general level is
shared, so that a skill never met starts where the learner stands; the weights of the features
start from `situation.FEATURES` and are corrected by the learner's bars. The last feature is how
much of the skill has faded by FSRS's reckoning.

Each of these numbers has a mean m and a variance v. A credit c (0 to 1) moves each by

    m += v a (c - P) / (1 + I V)      v -= v² a² I / (1 + I V)      I = P (1 - P),  V = Σ a² v

where a is 1 for general and own, minus the feature for its weight. This is one Newton step on the
posterior of the logistic model, the variances kept apart (an extended Kalman filter; its form with
one number is Glicko's, Glickman 1999, with an opponent known exactly). With one number it is
Pelánek's θ += K (c - P): K = v / (1 + I v) falls as a / (1 + b n) over n answers, his uncertainty
function with a = v and b = I v. Between answers a skill may change: every bar teaches some of what
is left to learn, so mean and variance grow by `Prior.gain_per_bar` and `Prior.variance_per_bar`
times 1 - P, and the variance with every day. Where an estimate is uncertain, probabilities are
drawn towards a half:
P = 1 / (1 + e^(-h / sqrt(1 + π V / 8))) (MacKay 1992).

The formulas of the three sources are from memory; the tests check the step against one worked by
hand and the whole against another library's fit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from math import exp, pi, sqrt
from types import MappingProxyType
from typing import NamedTuple

from trainer.practice.catalogue import difficulty
from trainer.practice.evidence import BarEvidence, Evidence
from trainer.practice.memory import Memory, recall_for, retrievability, review
from trainer.practice.situation import FEATURES

__all__ = [
    "MODEL_VERSION",
    "LearnerState",
    "Prior",
    "Rating",
    "SkillState",
    "kalman_update",
    "rating",
    "rating_probability",
    "success_probability",
    "update_state",
]

# Raised whenever the same attempts would give other ratings: stored ones are then worked out again.
MODEL_VERSION = 3
DAY_S = 86_400.0


@dataclass(frozen=True, slots=True)
class Prior:
    """The estimate before any answer, and how fast it may move.

    Means are in logits, variances in logits squared; `faded` is the weight of what was forgotten.
    `gain_per_bar` and `variance_per_bar` are added for every bar times 1 - P, `variance_per_day`
    for every day between answers.
    """

    general: float = 0.0
    general_variance: float = 1.5
    own_variance: float = 0.6
    weight_variance: float = 0.04
    faded: float = 0.8
    faded_variance: float = 0.1
    variance_per_bar: float = 0.006
    gain_per_bar: float = 0.008
    variance_per_day: float = 0.01


PRIOR = Prior()


class Rating(NamedTuple):
    """The mean and variance of an estimate, in logits and logits squared."""

    mean: float
    variance: float

    @property
    def sd(self) -> float:
        """The standard deviation."""
        return sqrt(self.variance)


@dataclass(frozen=True, slots=True)
class SkillState:
    """What is known of one skill.

    `own` and `variance` are its own part of the rating; `bars` counts the bars that showed it,
    `credit` sums their credits; `memory` says when it should be reviewed.
    """

    own: float
    variance: float
    bars: int
    credit: float
    memory: Memory


@dataclass(frozen=True, slots=True)
class LearnerState:
    """All that is known of a learner, a pure function of the attempts so far.

    `weights` has one rating for each of `FEATURES` and one for what was forgotten.
    """

    general: Rating
    weights: tuple[Rating, ...]
    skills: Mapping[str, SkillState] = field(default_factory=lambda: MappingProxyType({}))
    attempts: int = 0
    last_at: datetime | None = None
    prior: Prior = PRIOR

    @classmethod
    def fresh(cls, prior: Prior = PRIOR) -> LearnerState:
        """The state of a learner who has answered nothing yet."""
        weights = [Rating(value, prior.weight_variance) for value in FEATURES.values()]
        weights.append(Rating(prior.faded, prior.faded_variance))
        return cls(Rating(prior.general, prior.general_variance), tuple(weights), prior=prior)


def kalman_update(
    means: list[float], variances: list[float], a: list[float], credit: float
) -> float:
    """Update means and variances, in place, by one credit (0 to 1); returns the P expected before.

    `a` are the factors of the means in h. This is the update of an extended Kalman filter in the
    docstring of this module.
    """
    h = spread = 0.0
    for mean, variance, each in zip(means, variances, a, strict=True):
        h += mean * each
        spread += each * each * variance
    expected = 1 / (1 + exp(-h))
    information = expected * (1 - expected)
    over = 1 + information * spread
    surprise = (credit - expected) / over
    shrink = information / over
    for place, each in enumerate(a):
        pull = variances[place] * each
        means[place] += pull * surprise
        variances[place] -= pull * pull * shrink
    return expected


def update_state(state: LearnerState, evidence: Evidence) -> LearnerState:
    """The state after an attempt. A clock that was set back counts as no time."""
    at = evidence.at if state.last_at is None else max(evidence.at, state.last_at)
    shown = {skill for bar in evidence.bars for skill, _ in bar.shown}
    own: dict[str, list[float]] = {}
    faded: dict[str, float] = {}
    for skill in shown:
        before = state.skills.get(skill)
        own[skill] = _aged(before, at, state.prior)
        faded[skill] = 0.0 if before is None else 1 - retrievability(before.memory, at)
    general, weights, tally = _update_bars(state, evidence.bars, own, faded)
    skills = dict(state.skills)
    for skill, (bars, credit) in tally.items():
        before = skills.get(skill)
        memory = review(before.memory if before else None, recall_for(credit / bars, bars), at)
        skills[skill] = SkillState(
            own[skill][0],
            own[skill][1],
            bars + (before.bars if before else 0),
            credit + (before.credit if before else 0.0),
            memory,
        )
    return replace(
        state,
        general=general,
        weights=weights,
        skills=MappingProxyType(skills),
        attempts=state.attempts + 1,
        last_at=at,
    )


def _aged(skill: SkillState | None, at: datetime, prior: Prior) -> list[float]:
    """A skill's own mean and variance at a moment."""
    if skill is None:
        return [0.0, prior.own_variance]
    days = max(0.0, (at - skill.memory.last_at).total_seconds() / DAY_S)
    grown = skill.variance + prior.variance_per_day * days
    return [skill.own, max(skill.variance, min(grown, prior.own_variance))]


def _update_bars(
    state: LearnerState,
    bars: Iterable[BarEvidence],
    own: dict[str, list[float]],
    faded: Mapping[str, float],
) -> tuple[Rating, tuple[Rating, ...], dict[str, tuple[int, float]]]:
    """The general level, the weights and the (bars, credit) of each skill after some bars.

    `own` has mean and variance of each skill and is changed in place; `faded` has the share that
    was forgotten.
    """
    means = [state.general.mean, 0.0, *(weight.mean for weight in state.weights), 1.0]
    variances = [state.general.variance, 0.0, *(weight.variance for weight in state.weights), 0.0]
    tally: dict[str, tuple[int, float]] = {}
    moves, gains = state.prior.variance_per_bar, state.prior.gain_per_bar
    for features, shown in bars:
        a = [1.0, 1.0, *(-value for value in features), 0.0, 0.0]
        for skill, credit in shown:
            numbers = own[skill]
            means[1], variances[1] = numbers
            a[-2], a[-1] = -faded[skill], -difficulty(skill)
            expected = kalman_update(means, variances, a, credit)
            left = 1 - expected
            numbers[0], numbers[1] = means[1] + gains * left, variances[1] + moves * left
            count, total = tally.get(skill, (0, 0.0))
            tally[skill] = count + 1, total + credit
    weights = map(Rating, means[2:-1], variances[2:-1])
    return Rating(means[0], variances[0]), tuple(weights), tally


def rating(state: LearnerState, skill: str, now: datetime | None = None) -> Rating:
    """The rating of a skill in an ordinary bar; with `now`, less what was forgotten until then."""
    found = state.skills.get(skill)
    mean = state.general.mean - difficulty(skill)
    if found is None:
        return Rating(mean, state.general.variance + state.prior.own_variance)
    variance = found.variance
    if now is not None:
        mean -= state.weights[-1].mean * (1 - retrievability(found.memory, now))
        variance = _aged(found, now, state.prior)[1]
    return Rating(mean + found.own, state.general.variance + variance)


def success_probability(
    state: LearnerState, skill: str, features: tuple[float, ...] = (), now: datetime | None = None
) -> float:
    """The probability that a skill comes out right in a bar with these features.

    Without features it is that in an ordinary bar.
    """
    h, spread = rating(state, skill, now)
    for weight, value in zip(state.weights, features, strict=False):
        if value:
            h -= weight.mean * value
            spread += weight.variance * value * value
    return rating_probability(Rating(h, spread))


def rating_probability(value: Rating) -> float:
    """The probability that a rating stands for, drawn towards a half where it is uncertain."""
    return 1 / (1 + exp(-value.mean / sqrt(1 + pi * value.variance / 8)))
