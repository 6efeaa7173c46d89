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
    costs `per_gap` besides, and one of two rows or more `opening[i]` where it begins after i rows
    and `closing[i]` where it ends there. A longer run may also be taken as several, each a gap of
    its own, where that is cheaper.
    """

    deletion: int
    insertion: int
    per_gap: int
    opening: Sequence[int]
    closing: Sequence[int]


@dataclass(frozen=True, slots=True)
class _Table:
    """The costs of all cells, with what every row and column left alone costs taken off.

    A row left alone is a gap of its own, whose cost is taken off as well. `least` is the least
    cost of a cell, shape (n + 1, m + 1). `run` is that of the ways that end in a run of two rows or
    more, without what it costs to end it; it is known a row before, so `run[i]` holds those of
    i + 1 rows. To begin a run with row i - 1 costs `begins[i]`, to end one with row i `ends[i]`.
    """

    least: IntArray
    run: IntArray
    begins: IntArray
    ends: IntArray


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
            (up, left, cost - up * (gaps.deletion + gaps.per_gap) - left * gaps.insertion)
            for up, left, cost in here
        ]
        for cell, here in (steps or {}).items()
    }
    table = _fill(costs, gaps, steps)
    # The rows after the last pair are a run that costs nothing to begin or to end but `per_gap`.
    totals = table.least[:, m] + gaps.per_gap * np.arange(n + 1)
    totals[:-1] += gaps.per_gap
    last = n - int(np.argmin(totals[::-1]))
    pairs, two_to_one, repeated = _trace_back(table, steps, last, m)
    pairs += [(row, None) for row in range(last, n)]
    cost = int(totals[last]) + n * gaps.deletion + m * gaps.insertion
    return pairs, two_to_one, repeated, cost


def _fill(costs: IntArray, gaps: GapCosts, steps: CostedSteps) -> _Table:
    """Fill the table row by row.

    With the cost of an insertion taken off once for each column passed, a run of insertions along a
    row costs nothing, and the least over all runs that end in a cell is a running minimum; with
    that of a deletion and its gap taken off for each row, so does leaving a row alone.
    """
    n, m = costs.shape
    by_row: dict[int, list[tuple[int, int, int, int]]] = {}
    for (i, j), here in steps.items():
        by_row.setdefault(i, []).extend((j, *step) for step in here)
    in_gaps = gaps.per_gap * np.arange(n + 1)
    begins = in_gaps.copy()
    begins[1:] += gaps.opening[:-1]
    ends = np.array(gaps.closing) - in_gaps
    beside = costs - (gaps.insertion + gaps.deletion + gaps.per_gap)
    # Both tables side by side, so that one addition does for both; see `changes`.
    cells = np.zeros((n + 1, 2 * m + 2), np.int64)
    least, run = cells[:, : m + 1], cells[:, m + 1 :]
    run[0] = run[:, 0] = NEVER
    # What a run costs where it begins is not taken at the start of the song.
    first = least[:, 0]
    first[2:] = np.minimum(0, np.minimum.accumulate(ends[2:] + gaps.per_gap))
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
    return _Table(least, run, begins, ends)


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


def _trace_back(
    table: _Table, steps: CostedSteps, last: int, m: int
) -> tuple[list[Pair], list[tuple[int, int]], list[range]]:
    """Walk back through the table from the end: steps first, then gaps."""
    i, j = last, m
    pairs: list[Pair] = []
    stepped: list[int] = []
    again: list[tuple[int, int]] = []
    with_steps = {i * (m + 1) + j for i, j in steps}
    by_gap, by_run, by_row = _ways_back(table)
    while i or j:
        at = i * (m + 1) + j
        step = _step_to(table, steps, i, j) if at in with_steps else None
        if step is None and not by_gap[at] and i and j:
            i, j = i - 1, j - 1
            pairs.append((i, j))
        elif step is not None and not step[0]:
            again.append((len(pairs), step[1]))
            pairs += [(None, j - 1 - k) for k in range(step[1])]
            j -= step[1]
        elif step is not None:
            pairs.append((i - 1, None) if step[0] == 2 else (None, j - 1))
            i, j = i - step[0], j - step[1]
            pairs.append((i, j))
            stepped.append(len(pairs))
        elif not j or (i and (by_run[at] or by_row[at])):
            gap = i if not j else _run_before(table, i, j) if by_run[at] else 1
            pairs += [(row, None) for row in range(i - 1, i - 1 - gap, -1)]
            i -= gap
        else:
            j -= 1
            pairs.append((None, j))
    pairs.reverse()
    end = len(pairs)
    return (
        pairs,
        [(end - k, end - k + 1) for k in reversed(stepped)],
        [range(end - at - size, end - at) for at, size in reversed(again)],
    )


def _ways_back(table: _Table) -> tuple[bytes, bytes, bytes]:
    """Return which cells may have been reached by a gap, row after row, 1 for those that may.

    The first are those of any gap; then come those of a run of rows left alone and of one such row.
    """
    least, run = table.least, table.run
    by_run, by_row, by_column = np.zeros((3, *least.shape), np.bool_)
    np.equal(run[:-1] + table.ends[1:, None], least[1:], out=by_run[1:])
    np.equal(least[:-1], least[1:], out=by_row[1:])
    np.equal(least[:, :-1], least[:, 1:], out=by_column[:, 1:])
    return (by_run | by_row | by_column).tobytes(), by_run.tobytes(), by_row.tobytes()


def _step_to(table: _Table, steps: CostedSteps, i: int, j: int) -> tuple[int, int, int] | None:
    """Return the step by which a cell was reached, None if it was reached otherwise."""
    least = table.least.item
    for up, left, cost in steps[i, j]:
        if least(i - up, j - left) + cost == least(i, j):
            return up, left, cost
    return None


def _run_before(table: _Table, i: int, j: int) -> int:
    """Return how many rows the run has that ends in a cell."""
    cost, number = table.run.item(i - 1, j), 2
    while table.least.item(i - number, j) + table.begins.item(i - number + 1) != cost:
        number += 1
    return number
