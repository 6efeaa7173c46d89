"""Exact sampling of a second-order Markov chain with a given start, end and length.

This is forward filtering, backward sampling in the other direction: the probability of reaching the
end is summed from the last state back, then states are drawn from the first on, each weighted by
that probability. The result is distributed as the chain is under the condition that it ends as
asked; nothing is drawn and thrown away.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from itertools import accumulate
from math import fsum
from operator import mul
from typing import NamedTuple

__all__ = [
    "BackwardWeights",
    "NoPath",
    "Transition",
    "backward_weights",
    "sample_chain",
    "sample_forward",
]

Row = Sequence[float]
BackwardWeights = list[list[Row]]


class NoPath(ValueError):
    """No chain of this length goes from such a start to such an end."""


class Transition(NamedTuple):
    """The weights of n states after two others.

    `usual[c]` are n weights after any state and then c; `own[c][p]` take their place after the
    state p and then c. `only` is the one state the step may go to, -1 for any.
    """

    usual: Sequence[Row]
    own: Sequence[Mapping[int, Row]]
    only: int = -1

    def row(self, p: int, c: int) -> Row:
        """The weights after `p` (-1: any), `c`, whatever `only` says."""
        return self.own[c].get(p, self.usual[c])


def sample_chain(
    rng: random.Random,
    first: Row,
    steps: Sequence[Transition],
    last: Row,
    before: int,
    leads: Sequence[Row] | None = None,
) -> list[int]:
    """Draw states 0…n-1 of a second-order chain.

    Parameters: `first`, n weights of the first state; `steps[k]`, those of state k + 1 after two
    others; `last`, n weights of the last state, or `leads`, n rows of them by the state before it
    (0 wherever `last` is); `before`, the state before the first, -1 for none.
    Returns len(steps) + 1 states, drawn with probability proportional to first x all steps x last.
    Raises NoPath if every such product is 0.
    """
    if not steps:
        return [_choose_index(rng, list(map(mul, first, last)))]
    return sample_forward(rng, first, steps, backward_weights(steps, last, leads), before)


def backward_weights(
    steps: Sequence[Transition], last: Row, leads: Sequence[Row] | None = None
) -> BackwardWeights:
    """The probability, up to a factor, of reaching the end from two states, for each place.

    Element k is an n by n table (rows: the state c, columns: the state p before it) for state
    len(steps) - k, so the last place comes first; the table of the first state is left to
    `sample_forward`.
    """
    reach: BackwardWeights = [list(leads) if leads else [last] * len(last)]
    end_weights = [state for state, weight in enumerate(last) if weight]
    end = end_weights[0] if len(end_weights) == 1 else -1
    for step in steps[:0:-1]:
        reach.append(_reach(step, reach[-1], step.only if step.only >= 0 else end))
        end = -1
    return reach


def _reach(step: Transition, ahead: list[Row], only: int) -> list[Row]:
    """The table of one step; `only` is the one state that it can go to, -1 for several."""
    # Where a pair of states has no row of its own, all share what comes after any.
    if only >= 0:
        usual = [row[only] * after[only] for row, after in zip(step.usual, ahead, strict=True)]
    else:
        usual = [fsum(map(mul, row, after)) for row, after in zip(step.usual, ahead, strict=True)]
    table: dict[int, list[float]] = {}
    for c, (own, after) in enumerate(zip(step.own, ahead, strict=True)):
        for p, row in own.items():
            if p not in table:
                table[p] = usual.copy()
            table[p][c] = row[only] * after[only] if only >= 0 else fsum(map(mul, row, after))
    return [table.get(p, usual) for p in range(len(usual))]


def sample_forward(
    rng: random.Random, first: Row, steps: Sequence[Transition], reach: BackwardWeights, before: int
) -> list[int]:
    """Draw a chain forward, each state weighted by its probability of reaching the end."""
    step, ahead = steps[0], reach[-1]
    only = step.only
    weights = []
    for c, likely in enumerate(first):
        if likely:
            row, after = step.row(before, c), ahead[c]
            likely *= row[only] * after[only] if only >= 0 else fsum(map(mul, row, after))
        weights.append(likely)
    p, c = before, _choose_index(rng, weights)
    path = [c]
    for step, ahead in zip(steps, reversed(reach), strict=True):
        if step.only >= 0:
            p, c = c, step.only
        else:
            p, c = c, _choose_index(rng, list(map(mul, step.row(p, c), ahead[c])))
        path.append(c)
    return path


def _choose_index(rng: random.Random, weights: Sequence[float]) -> int:
    """One index by weight."""
    cumulative = list(accumulate(weights))
    if not cumulative[-1] > 0:
        raise NoPath("no chain fits the start, the end and the length")
    at = bisect_right(cumulative, rng.random() * cumulative[-1])
    while at >= len(weights) or not weights[at]:
        at -= 1
    return at
