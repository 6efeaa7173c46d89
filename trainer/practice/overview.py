"""Summaries of what is known of a learner's skills, in numbers and in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from math import exp

from trainer.practice.catalogue import describe_skill
from trainer.practice.daily import LEAST_BARS_FOR_RATE, describe_exposure, describe_rate
from trainer.practice.memory import retrievability
from trainer.practice.rating import LearnerState, Rating, rating, success_probability

__all__ = ["SkillSummary", "credible_interval", "skill_summaries"]

# 90% of a normal distribution lies within this many standard deviations of its mean.
WITHIN = 1.645


@dataclass(frozen=True, slots=True)
class SkillSummary:
    """What is known of one skill; `progress --json` prints these fields.

    `right` is the probability that it comes out right in an ordinary bar, `low` and `high` are the
    bounds of its 90% credible interval; `rating_logits` and `sd_logits` are the rating behind
    them. `bars` counts the bars that showed it; `kept` is its retrievability, 0 to 1. `said` is a
    sentence about it, without a rate where `is_early`.
    """

    skill: str
    name: str
    right: float
    low: float
    high: float
    rating_logits: float
    sd_logits: float
    bars: int
    kept: float
    due: datetime
    last_at: datetime
    said: str

    @property
    def is_early(self) -> bool:
        """Whether it was met in too few bars for a rate."""
        return self.bars < LEAST_BARS_FOR_RATE


def credible_interval(value: Rating) -> tuple[float, float]:
    """The 90% credible interval of a rating, as probabilities in an ordinary bar."""
    low, high = value.mean - WITHIN * value.sd, value.mean + WITHIN * value.sd
    return 1 / (1 + exp(-low)), 1 / (1 + exp(-high))


def skill_summaries(
    state: LearnerState, now: datetime, explanations: Mapping[str, str] | None = None
) -> tuple[SkillSummary, ...]:
    """Every skill that was met, the weakest first; those met in too few bars come last.

    `explanations` are sentences by skill, as `describe_confusions` gives them; each stands after
    the rate.
    """
    summaries = (_summary(state, skill, now, explanations or {}) for skill in state.skills)
    return tuple(sorted(summaries, key=lambda each: (each.is_early, each.right, each.skill)))


def _summary(
    state: LearnerState, skill: str, now: datetime, explanations: Mapping[str, str]
) -> SkillSummary:
    found, value = state.skills[skill], rating(state, skill, now)
    low, high = credible_interval(value)
    right = success_probability(state, skill, (), now)
    rate = f"You get this right {describe_rate(right)}. {explanations.get(skill, '')}".rstrip()
    said = describe_exposure(found.bars) if found.bars < LEAST_BARS_FOR_RATE else rate
    return SkillSummary(
        skill,
        describe_skill(skill),
        right,
        low,
        high,
        value.mean,
        value.sd,
        found.bars,
        retrievability(found.memory, now),
        found.memory.due,
        found.memory.last_at,
        said,
    )
