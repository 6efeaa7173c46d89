"""Chance: weighted draws that come out the same on every machine.

Only `random.Random.random` is drawn from and only +, −, ×, ÷, sqrt and `fsum` are used: each is
exactly rounded, so a seed gives the same song under any Python and any C library.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from itertools import accumulate
from typing import Generic, TypeVar

__all__ = ["Wheel", "chance", "draw", "fill", "scatter"]

T = TypeVar("T")


class Wheel(Generic[T]):
    """Things with weights, ready to be drawn from often."""

    __slots__ = ("cumulative", "things")

    def __init__(self, weighted: Iterable[tuple[T, float]]) -> None:
        kept = [(thing, weight) for thing, weight in weighted if weight > 0]
        if not kept:
            raise ValueError("a wheel needs at least one weight above 0")
        self.things = [thing for thing, _ in kept]
        self.cumulative = list(accumulate(weight for _, weight in kept))

    def spin(self, rng: random.Random) -> T:
        """One thing, as often as its weight says."""
        at = bisect_right(self.cumulative, rng.random() * self.cumulative[-1])
        return self.things[min(at, len(self.things) - 1)]


def draw(rng: random.Random, weighted: Mapping[T, float]) -> T:
    """One key of a mapping, as often as its weight says."""
    return Wheel(weighted.items()).spin(rng)


def chance(rng: random.Random, probability: float) -> bool:
    """Whether something of this probability happens."""
    return rng.random() < probability


def fill(weights: Sequence[float], copies: Sequence[int], expected: float) -> list[float]:
    """Probabilities min(1, level × weight) that make `expected` happen on average.

    `copies` says how many times each place is heard; where all places together cannot make up
    `expected`, each that has a weight is certain.
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


def scatter(
    rng: random.Random, weights: Sequence[float], copies: Sequence[int], expected: float
) -> list[int]:
    """Places drawn so that they are heard `expected` times on average, likelier where weighted."""
    if expected <= 0:
        return []
    chances = fill(weights, copies, expected)
    return [at for at, likely in enumerate(chances) if likely > 0 and rng.random() < likely]
