"""Exact sampling of a chain of chords with a given start, end and length.

Forward filtering, backward sampling turned round: the chance of reaching the end is summed from the
last chord back, then chords are drawn from the first on, each weighted by that chance. What comes
out is distributed as the chain is, given that it ends as asked; nothing is drawn and thrown away.
"""

from __future__ import annotations

import random
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from itertools import accumulate
from math import fsum
from operator import mul
from typing import NamedTuple

__all__ = ["NoPath", "Reach", "Step", "reach_back", "sample_chain", "walk"]

Row = Sequence[float]
Reach = list[list[Row]]


class NoPath(ValueError):
    """No chain of this length goes from such a start to such an end."""


class Step(NamedTuple):
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
    steps: Sequence[Step],
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
        return [_spin(rng, list(map(mul, first, last)))]
    return walk(rng, first, steps, reach_back(steps, last, leads), before)


def reach_back(steps: Sequence[Step], last: Row, leads: Sequence[Row] | None = None) -> Reach:
    """How likely the end is from states p, c at each place: the last place first.

    Element k is an n by n table for state len(steps) - k; the table of the first state is left to
    `walk`.
    """
    reach: Reach = [list(leads) if leads else [last] * len(last)]
    ends = [state for state, weight in enumerate(last) if weight]
    end = ends[0] if len(ends) == 1 else -1
    for step in steps[:0:-1]:
        reach.append(_reach(step, reach[-1], step.only if step.only >= 0 else end))
        end = -1
    return reach


def _reach(step: Step, ahead: list[Row], only: int) -> list[Row]:
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


def walk(
    rng: random.Random, first: Row, steps: Sequence[Step], reach: Reach, before: int
) -> list[int]:
    """Draw a chain forward, each state weighted by its chance of reaching the end."""
    step, ahead = steps[0], reach[-1]
    only = step.only
    weights = []
    for c, likely in enumerate(first):
        if likely:
            row, after = step.row(before, c), ahead[c]
            likely *= row[only] * after[only] if only >= 0 else fsum(map(mul, row, after))
        weights.append(likely)
    p, c = before, _spin(rng, weights)
    path = [c]
    for step, ahead in zip(steps, reversed(reach), strict=True):
        if step.only >= 0:
            p, c = c, step.only
        else:
            p, c = c, _spin(rng, list(map(mul, step.row(p, c), ahead[c])))
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
