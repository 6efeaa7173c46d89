"""Align by a table of costs: the least cost of every cell, row by row, and the way back.

Global alignment after Needleman & Wunsch 1970 (J. Mol. Biol. 48:443-453) with affine costs for runs
of rows left alone (Gotoh 1982, J. Mol. Biol. 162:705-708). Costs are integers, so that equal is
equal on every machine.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["NEVER", "CostedSteps", "GapCosts", "IntArray", "Pair", "align_by_cost"]

# A bar of the reference and one of the answer, counted from 0; None beside a gap.
Pair = tuple[int | None, int | None]
IntArray = NDArray[np.int64]
# A cost that no alignment reaches.
NEVER = 1 << 61


@dataclass(frozen=True, slots=True)
class GapCosts:
    """What gaps cost, in units of the table.

    `deletion` and `insertion` are the costs of a row and of a column left alone. A run of rows
    costs `place` besides, and one of two rows or more `opening[i]` where it begins after i rows and
    `closing[i]` where it ends there.
    """

    deletion: int
    insertion: int
    place: int
    opening: Sequence[int]
    closing: Sequence[int]


@dataclass(frozen=True, slots=True)
class _Table:
    """The costs of all cells, shape (n + 1, m + 1), with the insertions taken off by column.

    `least` is the least cost of a cell, with what it costs to end a run of gaps there; `fresh` that
    of ways that do not end in a run of rows left alone; `run` that of a run of two or more, without
    what it costs to end it.
    """

    least: IntArray
    fresh: IntArray
    run: IntArray


CostedSteps = Mapping[tuple[int, int], Sequence[tuple[int, int, int]]]


def align_by_cost(
    costs: IntArray, gaps: GapCosts, steps: CostedSteps | None = None
) -> tuple[list[Pair], list[tuple[int, int]], list[range], int]:
    """Align by a table of integer costs, shape (n, m).

    Parameters: `steps` are further ways to reach a cell: rows up, columns left, and the cost.
    Returns the pairs, of the least cost that there is, the rows of pairs that came by a step of two
    bars to one, the rows that came by one of bars written again, and that cost. Raises ValueError
    stating the shape where the table is empty.

    >>> gaps = GapCosts(5, 5, 0, (0, 0, 0, 0), (0, 0, 0, 0))
    >>> align_by_cost(np.array([[0, 9], [9, 9], [9, 0]]), gaps)
    ([(0, 0), (1, None), (2, 1)], [], [], 5)
    """
    n, m = costs.shape
    if not n or not m:
        raise ValueError(f"found costs of shape {costs.shape}, expected at least one bar a side")
    steps = steps or {}
    table = _fill(costs, gaps, steps)
    # The rows after the last pair are a run of gaps that costs nothing to begin or to end.
    totals = table.least[:, m] + np.arange(n, -1, -1) * gaps.deletion
    totals[:-1] += gaps.place
    last = n - int(np.argmin(totals[::-1]))
    pairs, two_to_one, repeated = _trace_back(table, costs, gaps, steps, last)
    pairs += [(row, None) for row in range(last, n)]
    return pairs, two_to_one, repeated, int(totals[last]) + m * gaps.insertion


def _fill(costs: IntArray, gaps: GapCosts, steps: CostedSteps) -> _Table:
    """Fill the table row by row.

    With the insertion cost taken off once for each column passed, a run of insertions along a row
    costs nothing, and the least over all runs that end in a cell is a running minimum.
    """
    n, m = costs.shape
    by_row: dict[int, list[tuple[int, int, int, int]]] = {}
    for (i, j), here in steps.items():
        by_row.setdefault(i, []).extend(
            (j, up, left, cost - left * gaps.insertion) for up, left, cost in here
        )
    beside = costs - gaps.insertion
    least = np.zeros((n + 1, m + 1), np.int64)
    fresh = np.zeros((n + 1, m + 1), np.int64)
    run = np.full((n + 1, m + 1), NEVER, np.int64)
    deletion, place = gaps.deletion, gaps.place
    # A run of one row, and what may become a run of two or more with the next.
    single = np.empty(m + 1, np.int64)
    longer = np.full(m + 1, NEVER, np.int64)
    for i in range(1, n + 1):
        row, new, run_here = least[i], fresh[i], run[i]
        np.add(longer, deletion, out=run_here)
        np.add(fresh[i - 1], deletion + place, out=single)
        np.add(single, gaps.opening[i - 1], out=longer)
        np.minimum(longer, run_here, out=longer)
        np.add(least[i - 1, :-1], beside[i - 1], out=new[1:])
        new[0] = longer[0] = run_here[0] = NEVER
        for j, up, left, cost in by_row.get(i, ()):
            if up:
                new[j] = min(new.item(j), least.item(i - up, j - left) + cost)
        if gaps.closing[i]:
            np.add(run_here, gaps.closing[i], out=row)
            np.minimum(row, single, out=row)
        else:
            np.minimum(run_here, single, out=row)
        np.minimum(row, new, out=row)
        # Rows left alone before the first pair.
        row[0] = i * deletion + place + gaps.closing[i] * (i > 1)
        np.minimum.accumulate(row, out=row)
        if i in by_row:
            _write_again(row, new, by_row[i])
        np.minimum(new[1:], row[:-1], out=new[1:])
    return _Table(least, fresh, run)


def _write_again(row: IntArray, new: IntArray, steps: Sequence[tuple[int, int, int, int]]) -> None:
    """Take the steps along a row: its end, rows up (none), columns left and the cost."""
    for j, up, left, cost in sorted(steps):
        if up:
            continue
        reached = row.item(j - left) + cost
        if reached < row.item(j):
            new[j] = reached
            row[j:] = np.minimum(row[j:], reached)


def _trace_back(
    table: _Table, costs: IntArray, gaps: GapCosts, steps: CostedSteps, last: int
) -> tuple[list[Pair], list[tuple[int, int]], list[range]]:
    """Walk back through the table from the end: steps first, then gaps."""
    i, j = last, costs.shape[1]
    pairs: list[Pair] = []
    stepped: list[int] = []
    again: list[tuple[int, int]] = []
    least, fresh = table.least.item, table.fresh.item
    # Before a run of rows left alone there is none, or it would be longer.
    after_gap = False
    while i or j:
        here = fresh(i, j) if after_gap else least(i, j)
        step = _step_to(steps.get((i, j), ()), here, i, j, table.least, gaps)
        gap = 0 if after_gap or step is not None else _gap_before(table, gaps, i, j)
        after_gap = gap > 0
        if step is not None and not step[0]:
            again.append((len(pairs), step[1]))
            pairs += [(None, j - 1 - k) for k in range(step[1])]
            j -= step[1]
        elif step is not None:
            pairs.append((i - 1, None) if step[0] == 2 else (None, j - 1))
            i, j = i - step[0], j - step[1]
            pairs.append((i, j))
            stepped.append(len(pairs))
        elif gap:
            pairs += [(row, None) for row in range(i - 1, i - 1 - gap, -1)]
            i -= gap
            after_gap = j > 0
        elif j and least(i, j - 1) == here:
            j -= 1
            pairs.append((None, j))
        else:
            i, j = i - 1, j - 1
            pairs.append((i, j))
    pairs.reverse()
    end = len(pairs)
    return (
        pairs,
        [(end - k, end - k + 1) for k in reversed(stepped)],
        [range(end - at - size, end - at) for at, size in reversed(again)],
    )


def _step_to(
    steps: Sequence[tuple[int, int, int]],
    here: int,
    i: int,
    j: int,
    least: IntArray,
    gaps: GapCosts,
) -> tuple[int, int, int] | None:
    """Return the step by which a cell was reached at its cost, or None."""
    for up, left, cost in steps:
        if least.item(i - up, j - left) + cost - left * gaps.insertion == here:
            return up, left, cost
    return None


def _gap_before(table: _Table, gaps: GapCosts, i: int, j: int) -> int:
    """Return how many rows left alone end in a cell, 0 if it was reached otherwise."""
    here = table.least.item(i, j)
    if not j:
        return i
    if not i:
        return 0
    if table.run.item(i, j) + gaps.closing[i] == here:
        number, cost = 2, table.run.item(i, j)
        start = 2 * gaps.deletion + gaps.place
        while table.fresh.item(i - number, j) + start + gaps.opening[i - number] != cost:
            number, cost = number + 1, cost - gaps.deletion
        return number
    return int(table.fresh.item(i - 1, j) + gaps.deletion + gaps.place == here)
