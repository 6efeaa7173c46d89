"""Exact sampling of a chain of chords with a given start, end and length.

Forward filtering, backward sampling turned round: the chance of reaching the end is summed from the
last chord back, then chords are drawn from the first on, each weighted by that chance. What comes
out is distributed as the chain is, given that it ends as asked; nothing is drawn and thrown away.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Callable, Sequence
from itertools import accumulate
from math import fsum
from operator import mul

__all__ = ["NoPath", "Reach", "reach_back", "sample_chain", "walk"]

Rows = Callable[[int, int], Sequence[float]]
Reach = list[list[list[float]]]


class NoPath(ValueError):
    """No chain of this length goes from such a start to such an end."""


def sample_chain(
    rng: random.Random,
    first: Sequence[float],
    steps: Sequence[Rows],
    last: Sequence[float],
    before: int,
) -> list[int]:
    """Draw states 0…n-1 of a second-order chain.

    Parameters: `first`, n weights of the first state; `steps[k](p, c)`, n weights of state k + 1
    after states `p`, `c`; `last`, n weights of the last state; `before`, the state before the
    first, -1 for none. Returns len(steps) + 1 states, drawn with probability proportional to
    first x all steps x last. Raises NoPath if every such product is 0.
    """
    if not steps:
        return [_spin(rng, list(map(mul, first, last)))]
    return walk(rng, first, steps, reach_back(steps, last), before)


def reach_back(steps: Sequence[Rows], last: Sequence[float]) -> Reach:
    """How likely the end is from states p, c at each place: the last place first.

    Element k is an n by n table for state len(steps) - k; the table of the first state is left to
    `walk`.
    """
    states = range(len(last))
    reach = [[list(last)] * len(last)]
    for step in steps[:0:-1]:
        table: list[list[float]] = [[] for _ in states]
        for c, after in enumerate(reach[-1]):
            # Where a pair was never seen its row is the one of any pair: summed once.
            usual = step(-1, c)
            likely = fsum(map(mul, usual, after))
            for p in states:
                row = step(p, c)
                table[p].append(likely if row is usual else fsum(map(mul, row, after)))
        reach.append(table)
    return reach


def walk(
    rng: random.Random, first: Sequence[float], steps: Sequence[Rows], reach: Reach, before: int
) -> list[int]:
    """Draw a chain forward, each state weighted by its chance of reaching the end."""
    ahead = reach[-1]
    weights = [
        likely * fsum(map(mul, steps[0](before, c), ahead[c])) if likely else 0.0
        for c, likely in enumerate(first)
    ]
    p, c = before, _spin(rng, weights)
    path = [c]
    for step, ahead in zip(steps, reversed(reach), strict=True):
        p, c = c, _spin(rng, list(map(mul, step(p, c), ahead[c])))
        path.append(c)
    return path


def _spin(rng: random.Random, weights: Sequence[float]) -> int:
    """One index by weight."""
    cumulative = list(accumulate(weights))
    if not cumulative[-1] > 0:
        raise NoPath("no chain fits the start, the end and the length")
    at = bisect_right(cumulative, rng.random() * cumulative[-1])
    while at >= len(weights) or not weights[at]:
        at -= 1
    return at
