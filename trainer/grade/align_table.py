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
    `closing[i]` where it ends there. A longer run may also be taken as several, each with a place
    of its own, where that is cheaper.
    """

    deletion: int
    insertion: int
    place: int
    opening: Sequence[int]
    closing: Sequence[int]


@dataclass(frozen=True, slots=True)
class _Table:
    """The costs of all cells, shape (n + 1, m + 1), with every row and column left alone taken off.

    `least` is the least cost of a cell, `run` that of the ways that end in a run of two rows or
    more, without what it costs to end it.
    """

    least: IntArray
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
    steps = {
        cell: [
            (up, left, cost - up * gaps.deletion - left * gaps.insertion) for up, left, cost in here
        ]
        for cell, here in (steps or {}).items()
    }
    table = _fill(costs, gaps, steps)
    # The rows after the last pair are a run that costs nothing to begin or to end but its place.
    totals = table.least[:, m].copy()
    totals[:-1] += gaps.place
    last = n - int(np.argmin(totals[::-1]))
    pairs, two_to_one, repeated = _trace_back(table, gaps, steps, last, m)
    pairs += [(row, None) for row in range(last, n)]
    cost = int(totals[last]) + n * gaps.deletion + m * gaps.insertion
    return pairs, two_to_one, repeated, cost


def _fill(costs: IntArray, gaps: GapCosts, steps: CostedSteps) -> _Table:
    """Fill the table row by row.

    With the cost of an insertion taken off once for each column passed, a run of insertions along a
    row costs nothing, and the least over all runs that end in a cell is a running minimum; with
    that of a deletion taken off for each row, so does going down a column.
    """
    n, m = costs.shape
    by_row: dict[int, list[tuple[int, int, int, int]]] = {}
    for (i, j), here in steps.items():
        by_row.setdefault(i, []).extend((j, *step) for step in here)
    beside = costs - (gaps.insertion + gaps.deletion)
    least = np.zeros((n + 1, m + 1), np.int64)
    run = np.full((n + 2, m + 1), NEVER, np.int64)
    place, opening, closing = gaps.place, gaps.opening, gaps.closing
    single = np.empty(m + 1, np.int64)
    paired = np.empty(m, np.int64)
    for i in range(1, n + 1):
        above, row, run_here, run_next = least[i - 1], least[i], run[i], run[i + 1]
        np.add(above, place, out=single)
        if opening[i - 1]:
            np.add(single, opening[i - 1], out=run_next)
            np.minimum(run_next, run_here, out=run_next)
        else:
            np.minimum(single, run_here, out=run_next)
        if closing[i]:
            np.add(run_here, closing[i], out=row)
            np.minimum(row, single, out=row)
        else:
            np.minimum(run_here, single, out=row)
        np.add(above[:-1], beside[i - 1], out=paired)
        for j, up, left, cost in by_row.get(i, ()):
            if up:
                paired[j - 1] = min(paired.item(j - 1), least.item(i - up, j - left) + cost)
        np.minimum(row[1:], paired, out=row[1:])
        # What a run costs where it begins is not taken at the start of the song.
        row[0] = place + (min(closing[i], above.item(0)) if i > 1 else 0)
        run_next[0] = NEVER
        np.minimum.accumulate(row, out=row)
        if i in by_row:
            _write_again(row, by_row[i])
    return _Table(least, run)


def _write_again(row: IntArray, steps: Sequence[tuple[int, int, int, int]]) -> None:
    """Take the steps along a row: its end, rows up (none), columns left and the cost."""
    for j, up, left, cost in sorted(steps):
        if not up and (reached := row.item(j - left) + cost) < row.item(j):
            row[j:] = np.minimum(row[j:], reached)


def _trace_back(
    table: _Table, gaps: GapCosts, steps: CostedSteps, last: int, m: int
) -> tuple[list[Pair], list[tuple[int, int]], list[range]]:
    """Walk back through the table from the end: steps first, then gaps."""
    i, j = last, m
    pairs: list[Pair] = []
    stepped: list[int] = []
    again: list[tuple[int, int]] = []
    least = table.least.item
    while i or j:
        here = least(i, j)
        step = next(
            (
                step
                for step in steps.get((i, j), ())
                if least(i - step[0], j - step[1]) + step[2] == here
            ),
            None,
        )
        if step is not None and not step[0]:
            again.append((len(pairs), step[1]))
            pairs += [(None, j - 1 - k) for k in range(step[1])]
            j -= step[1]
        elif step is not None:
            pairs.append((i - 1, None) if step[0] == 2 else (None, j - 1))
            i, j = i - step[0], j - step[1]
            pairs.append((i, j))
            stepped.append(len(pairs))
        elif gap := _gap_before(table, gaps, i, j):
            pairs += [(row, None) for row in range(i - 1, i - 1 - gap, -1)]
            i -= gap
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


def _gap_before(table: _Table, gaps: GapCosts, i: int, j: int) -> int:
    """Return how many rows left alone end in a cell, 0 if it was reached otherwise."""
    if not j or not i:
        return i
    here, least, run = table.least.item(i, j), table.least, table.run
    cost = run.item(i, j)
    if cost + gaps.closing[i] == here:
        number = 2
        while least.item(i - number, j) + gaps.place + gaps.opening[i - number] != cost:
            number += 1
        return number
    return int(least.item(i - 1, j) + gaps.place == here)
