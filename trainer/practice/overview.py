"""What is known of a learner, ready to be shown: every value in words or 0 to 1."""

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

# Nine in ten of a normal distribution lie within so many standard deviations.
WITHIN = 1.645


@dataclass(frozen=True, slots=True)
class SkillSummary:
    """One skill. `right`, `low`, `high` are chances in an ordinary bar: the best guess and the
    range that holds nine in ten; `kept` is the share still kept since it was last met.

    `rating_logits` and `sd_logits` are the numbers behind them; `said` tells it in a sentence, no
    rate where `is_early`: met in too few bars.
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
        """Whether it was met in too few bars to say a rate."""
        return self.bars < LEAST_BARS_FOR_RATE


def credible_interval(value: Rating) -> tuple[float, float]:
    """The chances between which a rating lies nine times in ten."""
    low, high = value.mean - WITHIN * value.sd, value.mean + WITHIN * value.sd
    return 1 / (1 + exp(-low)), 1 / (1 + exp(-high))


def skill_summaries(
    state: LearnerState, now: datetime, why: Mapping[str, str] | None = None
) -> tuple[SkillSummary, ...]:
    """Every skill that was met, the weakest first, at the end those met in too few bars to say.

    `why` as `describe_confusions` gives it; it stands after the rate.
    """
    lines = (_line(state, skill, now, why or {}) for skill in state.skills)
    return tuple(sorted(lines, key=lambda line: (line.is_early, line.right, line.skill)))


def _line(state: LearnerState, skill: str, now: datetime, why: Mapping[str, str]) -> SkillSummary:
    found, value = state.skills[skill], rating(state, skill, now)
    low, high = credible_interval(value)
    right = success_probability(state, skill, (), now)
    rate = f"Right {describe_rate(right)}. {why.get(skill, '')}".rstrip()
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
