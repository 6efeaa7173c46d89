"""Align by a table of costs: the least cost of every cell, row by row, and the way back.

Global alignment after Needleman & Wunsch 1970 (J. Mol. Biol. 48:443-453) with affine costs for runs
of rows left alone (Gotoh 1982, J. Mol. Biol. 162:705-708). Costs are integers, so that equal is
equal on every machine.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "NEVER",
    "CostTable",
    "CostedSteps",
    "GapCosts",
    "IntArray",
    "Pair",
    "align_by_cost",
    "first_column",
    "relative_steps",
    "run_costs",
    "trace_back",
]

# A bar of the reference and one of the answer, counted from 0; None beside a gap.
Pair = tuple[int | None, int | None]
IntArray = NDArray[np.int64]
# A cost that no alignment reaches.
NEVER = 1 << 61


@dataclass(frozen=True, slots=True)
class GapCosts:
    """What gaps cost, in units of the table.

    `deletion` and `insertion` are the costs of a row and of a column left alone. A run of rows
    costs `per_gap` besides, and one of two rows or more `opening[i]` where it begins after i rows
    and `closing[i]` where it ends there. A longer run may also be taken as several, each a gap of
    its own, where that is cheaper.
    """

    deletion: int
    insertion: int
    per_gap: int
    opening: IntArray
    closing: IntArray


class CostTable(NamedTuple):
    """The costs of all cells, with what every row and column left alone costs taken off.

    A row left alone is a gap of its own, whose cost is taken off as well. Two numbers are known of
    cell (i, j), which i rows and j columns lead to. `cells[origin + i * down + j * right]` is its
    least cost. What stands `run` places behind is that of the ways that end in a run of two rows or
    more, without what it costs to end it; it is known a row before, so it holds those of i + 1
    rows. To begin a run with row i - 1 costs `begins[i]`, to end one with row i `ends[i]`.
    `gaps` is 1 where `cells` has the least cost of a cell that may have been reached otherwise than
    by a pair.
    """

    cells: memoryview
    gaps: bytes
    origin: int
    down: int
    right: int
    run: int
    begins: memoryview
    ends: memoryview


CostedSteps = Mapping[tuple[int, int], Sequence[tuple[int, int, int]]]


def align_by_cost(
    costs: IntArray, gaps: GapCosts, steps: CostedSteps | None = None
) -> tuple[list[Pair], list[tuple[int, int]], list[range], int]:
    """Align by a table of integer costs, shape (n, m).

    Parameters: `steps` are further ways to reach a cell: rows up, columns left, and the cost.
    Returns the pairs, of the least cost that there is, the rows of pairs that came by a step of two
    bars to one, the rows that came by one of bars written again, and that cost. Raises ValueError
    stating the shape where the table is empty.

    >>> gaps = GapCosts(5, 5, 0, np.zeros(4, int), np.zeros(4, int))
    >>> align_by_cost(np.array([[0, 9], [9, 9], [9, 0]]), gaps)
    ([(0, 0), (1, None), (2, 1)], [], [], 5)
    """
    n, m = costs.shape
    if not n or not m:
        raise ValueError(f"found costs of shape {costs.shape}, expected at least one bar a side")
    steps = relative_steps(steps or {}, gaps)
    table = _fill(costs, gaps, steps)
    # The rows after the last pair are a run that costs nothing to begin or to end but `per_gap`.
    totals = np.asarray(table.cells).reshape(n + 1, -1)[:, m] + gaps.per_gap * np.arange(n + 1)
    totals[:-1] += gaps.per_gap
    last = n - int(np.argmin(totals[::-1]))
    cost = int(totals[last]) + n * gaps.deletion + m * gaps.insertion
    return *trace_back(table, steps, last, n, m), cost


def relative_steps(steps: CostedSteps, gaps: GapCosts) -> CostedSteps:
    """Return steps with what their rows and columns cost when left alone taken off."""
    return {
        cell: [
            (up, left, cost - up * (gaps.deletion + gaps.per_gap) - left * gaps.insertion)
            for up, left, cost in here
        ]
        for cell, here in steps.items()
    }


def run_costs(gaps: GapCosts) -> tuple[IntArray, IntArray]:
    """Return what it costs to begin a run with each row and to end one; see `CostTable`."""
    in_gaps = gaps.per_gap * np.arange(len(gaps.closing))
    begins = in_gaps.copy()
    begins[1:] += gaps.opening[:-1]
    return begins, gaps.closing - in_gaps


def first_column(gaps: GapCosts, ends: IntArray) -> IntArray:
    """Return the least costs of the first cells that only rows lead to, one for each of `ends`.

    What a run costs where it begins is not taken at the start of the song.
    """
    first = ends + gaps.per_gap
    first[:2] = 0
    return np.minimum.accumulate(first, out=first)


def _fill(costs: IntArray, gaps: GapCosts, steps: CostedSteps) -> CostTable:
    """Fill the table row by row.

    With the cost of an insertion taken off once for each column passed, a run of insertions along a
    row costs nothing, and the least over all runs that end in a cell is a running minimum; with
    that of a deletion and its gap taken off for each row, so does leaving a row alone.
    """
    n, m = costs.shape
    by_row: dict[int, list[tuple[int, int, int, int]]] = {}
    for (i, j), here in steps.items():
        by_row.setdefault(i, []).extend((j, *step) for step in here)
    begins, ends = run_costs(gaps)
    beside = costs - (gaps.insertion + gaps.deletion + gaps.per_gap)
    # Both tables side by side, so that one addition does for both; see `changes`.
    cells = np.zeros((n + 1, 2 * m + 2), np.int64)
    least, run = cells[:, : m + 1], cells[:, m + 1 :]
    run[0] = run[:, 0] = NEVER
    first = least[:, 0] = first_column(gaps, ends)
    # The first column is passed on to the next as if by a pair.
    np.minimum(beside[:, 0], first[1:] - first[:-1], out=beside[:, 0])
    # To begin a run with a row costs what is added to `least`, to end one before it to `run`. Rows
    # of equal numbers are faster to add than numbers.
    changes = np.empty((n, 2 * m + 2), np.int64)
    changes[:, : m + 1], changes[:, m + 1 :] = begins[1:, None], ends[1:, None]
    changed, paired = np.empty(2 * m + 2, np.int64), np.empty(m, np.int64)
    begun, ended = changed[1 : m + 1], changed[m + 2 :]
    add, minimum, running_minimum = np.add, np.minimum, np.minimum.accumulate
    both, above, run_here = cells[0], least[0, 1:], run[0, 1:]
    rows = zip(cells[1:], least[1:, 1:], run[1:, 1:], least[:-1, :-1], changes, beside, strict=True)
    for i, (both_next, row, run_next, left, change, pair) in enumerate(rows, 1):
        add(both, change, out=changed)
        minimum(begun, run_here, out=run_next)
        minimum(ended, above, out=ended)
        add(left, pair, out=paired)
        stepped = by_row.get(i)
        if stepped:
            _step(paired, least, i, stepped)
        minimum(ended, paired, out=ended)
        running_minimum(ended, out=row)
        if stepped:
            _write_again(least[i], stepped)
        both, above, run_here = both_next, row, run_next
    by_gap = np.zeros(cells.shape, np.bool_)
    at = by_gap[:, : m + 1]
    np.equal(run[:-1] + ends[1:, None], least[1:], out=at[1:])
    at[1:] |= least[:-1] == least[1:]
    at[:, 1:] |= least[:, :-1] == least[:, 1:]
    for i, j in steps:
        at[i, j] = True
    return CostTable(
        cells.ravel().data,
        by_gap.tobytes(),
        *(0, 2 * m + 2, 1, m + 1),
        begins.data,
        ends.data,
    )


def _step(
    paired: IntArray, least: IntArray, i: int, steps: Sequence[tuple[int, int, int, int]]
) -> None:
    """Take the steps that end in row i and come from rows above; see `_write_again` for theirs."""
    for j, up, left, cost in steps:
        if up:
            paired[j - 1] = min(paired.item(j - 1), least.item(i - up, j - left) + cost)


def _write_again(row: IntArray, steps: Sequence[tuple[int, int, int, int]]) -> None:
    """Take the steps along a row: its end, rows up (none), columns left and the cost."""
    for j, up, left, cost in sorted(steps):
        if not up and (reached := row.item(j - left) + cost) < row.item(j):
            row[j:] = np.minimum(row[j:], reached)


def trace_back(
    table: CostTable, steps: CostedSteps, last: int, n: int, m: int
) -> tuple[list[Pair], list[tuple[int, int]], list[range]]:
    """Walk back through the table of n rows and m columns: steps first, then gaps.

    The rows after the `last` pair are left alone. Returns what `align_by_cost` does but the cost.
    """
    diagonal = table.down + table.right
    i, j = last, m
    pairs: list[Pair] = [(row, None) for row in range(n - 1, last - 1, -1)]
    stepped: list[int] = []
    again: list[tuple[int, int]] = []
    while i and j:
        at = table.origin + i * table.down + j * table.right
        paired = table.gaps[at : at - min(i, j) * diagonal : -diagonal].find(1)
        if paired:
            paired = min(i, j) if paired < 0 else paired
            rows, columns = range(i - paired, i), range(j - paired, j)
            pairs += zip(reversed(rows), reversed(columns), strict=True)
            i, j = i - paired, j - paired
            continue
        step = _step_to(table, steps[i, j], at) if (i, j) in steps else None
        up, left = step or _last_done(table, at, i)
        if step and up:
            pairs.append((i - 1, None) if up == 2 else (None, j - 1))
            pairs.append((i - up, j - left))
            stepped.append(len(pairs))
        elif up and left:
            pairs.append((i - 1, j - 1))
        else:
            if step:
                again.append((len(pairs), left))
            pairs += [(row, None) for row in range(i - 1, i - 1 - up, -1)]
            pairs += [(None, column) for column in range(j - 1, j - 1 - left, -1)]
        i, j = i - up, j - left
    pairs += [(row, None) for row in range(i - 1, -1, -1)]
    pairs += [(None, column) for column in range(j - 1, -1, -1)]
    pairs.reverse()
    end = len(pairs)
    return (
        pairs,
        [(end - k, end - k + 1) for k in reversed(stepped)],
        [range(end - at - size, end - at) for at, size in reversed(again)],
    )


def _step_to(
    table: CostTable, steps: Sequence[tuple[int, int, int]], at: int
) -> tuple[int, int] | None:
    """Return the rows and columns of the step by which a cell was reached, None if by none."""
    cells = table.cells
    for up, left, cost in steps:
        if cells[at - up * table.down - left * table.right] + cost == cells[at]:
            return up, left
    return None


def _last_done(table: CostTable, at: int, i: int) -> tuple[int, int]:
    """Return how many rows and columns were passed last before a cell of row i, steps aside."""
    cells, here = table.cells, table.cells[at]
    if cells[at - table.down + table.run] + table.ends[i] == here:
        return _run_before(table, at, i), 0
    if cells[at - table.down] == here:
        return 1, 0
    return (0, 1) if cells[at - table.right] == here else (1, 1)


def _run_before(table: CostTable, at: int, i: int) -> int:
    """Return how many rows the run has that ends in a cell of row i."""
    cells, down = table.cells, table.down
    cost, number = cells[at - down + table.run], 2
    while cells[at - number * down] + table.begins[i - number + 1] != cost:
        number += 1
    return number
