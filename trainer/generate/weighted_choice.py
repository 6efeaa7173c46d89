"""Weighted random choices that come out the same on every machine.

Only `random.Random.random` is drawn from, and only +, −, ×, ÷, sqrt and `fsum` are used. Each of
them is exactly rounded, so a seed gives the same song with any Python and any C library.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from itertools import accumulate
from typing import Generic, TypeVar

__all__ = ["WeightedChoice", "choose", "happens", "inclusion_probabilities", "poisson_sample"]

T = TypeVar("T")


class WeightedChoice(Generic[T]):
    """A choice among items with weights that is made many times.

    Parameters: `weighted`, pairs of an item and its weight; weights of 0 or below leave an item
    out. Raises ValueError if no weight is above 0.
    """

    __slots__ = ("cumulative", "items")

    def __init__(self, weighted: Iterable[tuple[T, float]]) -> None:
        possible = [(item, weight) for item, weight in weighted if weight > 0]
        if not possible:
            raise ValueError("found no weight above 0, expected at least one weight above 0")
        self.items = [item for item, _ in possible]
        self.cumulative = list(accumulate(weight for _, weight in possible))

    def choose(self, rng: random.Random) -> T:
        """One item, with a probability proportional to its weight."""
        at = bisect_right(self.cumulative, rng.random() * self.cumulative[-1])
        return self.items[min(at, len(self.items) - 1)]


def choose(rng: random.Random, weighted: Mapping[T, float]) -> T:
    """One key of a mapping, with a probability proportional to its value."""
    return WeightedChoice(weighted.items()).choose(rng)


def happens(rng: random.Random, probability: float) -> bool:
    """Whether an event of this probability happens (a Bernoulli trial)."""
    return rng.random() < probability


def inclusion_probabilities(
    weights: Sequence[float], copies: Sequence[int], expected: float
) -> list[float]:
    """The probability min(1, level × weight) of each place, such that `expected` are heard on
    average.

    `weights` and `copies` have one value for each place; `copies` says how often it is heard.
    Where all places together cannot make up `expected`, each with a weight above 0 has probability
    1. (Inclusion probabilities proportional to size, as in survey sampling.)
    """
    open_places = [at for at, weight in enumerate(weights) if weight > 0]
    chances = [0.0] * len(weights)
    left = expected
    while open_places and left > 0:
        total = 0.0
        for at in open_places:
            total += weights[at] * copies[at]
        level = left / total
        full = [at for at in open_places if level * weights[at] >= 1]
        if not full:
            for at in open_places:
                chances[at] = level * weights[at]
            break
        for at in full:
            chances[at] = 1.0
            left -= copies[at]
        open_places = [at for at in open_places if level * weights[at] < 1]
    return chances


def poisson_sample(
    rng: random.Random, weights: Sequence[float], copies: Sequence[int], expected: float
) -> list[int]:
    """The indices of places drawn independently, each with its inclusion probability.

    They are heard `expected` times on average (Poisson sampling); nothing is drawn at random where
    `expected` is 0 or below.
    """
    if expected <= 0:
        return []
    chances = inclusion_probabilities(weights, copies, expected)
    return [at for at, likely in enumerate(chances) if likely > 0 and rng.random() < likely]
