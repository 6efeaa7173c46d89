"""Items by classical test theory: how hard each is and how well it tells learners apart.

The difficulty of an item is its p-value, the share of learners who got it right. Its discrimination
is the point-biserial correlation between getting it right and the score in all other items; the
item itself is left out, because with few items it would correlate with itself (Crocker & Algina
1986, Introduction to Classical and Modern Test Theory, ch. 14; from memory). A class is a small
sample, so both come with an interval in which the true value lies with 95% confidence: Wilson's for
the share (1927, JASA 22:209), Fisher's z for the correlation (1915, Biometrika 10:507). Under
`ENOUGH` answers nothing is said.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import atanh, sqrt, tanh

__all__ = [
    "ENOUGH",
    "Estimate",
    "ItemStatistics",
    "fisher_interval",
    "item_statistics",
    "point_biserial",
    "wilson_interval",
]

# With fewer answers an interval is so wide that it says nothing a teacher could use.
ENOUGH = 8
# The 97.5th percentile of the normal distribution.
Z95 = 1.959963984540054
# Correlations are sums of rounded numbers; Fisher's z of exactly 1 is without end.
NEARLY_ONE = 1 - 1e-12


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with the ends of its 95% interval."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class ItemStatistics:
    """What the answers say about an item.

    `answers` is how many learners answered and `right` how many got it right; `mean` is the mean
    score, None without answers. `p` and `discrimination` are None where nothing can be said, and
    `why` says why, "" if all is said.
    """

    answers: int
    right: int
    mean: float | None
    p: Estimate | None
    discrimination: Estimate | None
    why: str = ""


def point_biserial(right: Sequence[bool], scores: Sequence[float]) -> float | None:
    """The point-biserial correlation of a yes or no with scores; None where either is the same for
    all.

    It is Pearson's correlation with 1 for yes and 0 for no.
    """
    count = len(right)
    if count < 2:
        return None
    yes = [score for was, score in zip(right, scores, strict=True) if was]
    share = len(yes) / count
    mean = sum(scores) / count
    spread = sqrt(sum((score - mean) ** 2 for score in scores) / count)
    if not 0 < share < 1 or spread < 1e-12:
        return None
    apart = (sum(yes) / len(yes) - mean) / (1 - share)
    return max(-1.0, min(1.0, apart * sqrt(share * (1 - share)) / spread))


def wilson_interval(right: int, count: int) -> tuple[float, float]:
    """The ends of Wilson's 95% interval of a share; `count` is 1 or more."""
    share, square = right / count, Z95 * Z95
    middle = share + square / (2 * count)
    reach = Z95 * sqrt(share * (1 - share) / count + square / (4 * count * count))
    below = 1 + square / count
    return max(0.0, (middle - reach) / below), min(1.0, (middle + reach) / below)


def fisher_interval(correlation: float, count: int) -> tuple[float, float]:
    """The ends of the 95% interval of a correlation by Fisher's z; `count` is 4 or more."""
    held = max(-NEARLY_ONE, min(NEARLY_ONE, correlation))
    z, reach = atanh(held), Z95 / sqrt(count - 3)
    return tanh(z - reach), tanh(z + reach)


def item_statistics(
    scores: Sequence[float], rest: Sequence[float] | None, pass_mark: float
) -> ItemStatistics:
    """The statistics of an item over the learners who answered it.

    Parameters: `scores` are theirs in the item (0 to 1) and `rest` theirs in all other items, in
    the same order; None for an item that is the only one. An answer is right from `pass_mark` on.
    """
    right = [score >= pass_mark - 1e-9 for score in scores]
    count, yes = len(scores), sum(right)
    mean = sum(scores) / count if count else None
    if count < ENOUGH:
        why = f"Too few to say: {count} of at least {ENOUGH} answers."
        return ItemStatistics(count, yes, mean, None, None, why)
    p = Estimate(yes / count, *wilson_interval(yes, count))
    if rest is None:
        why = "With one song there's nothing to compare it with."
        return ItemStatistics(count, yes, mean, p, None, why)
    correlation = point_biserial(right, rest)
    if correlation is None:
        same = "Everyone got it right." if yes == count else "No one got it right."
        if 0 < yes < count:
            same = "Everyone has the same score in the other songs."
        return ItemStatistics(count, yes, mean, p, None, same)
    found = Estimate(correlation, *fisher_interval(correlation, count))
    return ItemStatistics(count, yes, mean, p, found)
