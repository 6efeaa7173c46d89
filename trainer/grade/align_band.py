"""Align by the cells of the table near its diagonal, where that is known to be the least cost.

Two charts that differ in a few bars are aligned along the diagonal. A bar left out and one too many
cost so much that no alignment of the least cost goes further from the diagonal than what the best
one found allows. (So Ukkonen 1985, Information and Control 64:100-118, bounds the edit distance.)
The cells are filled in rounds: one round goes along every diagonal at once, and each takes one bar
more that is left alone. What comes out is what `align_by_cost` gives.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from trainer.grade.align_table import (
    NEVER,
    CostedSteps,
    CostTable,
    GapCosts,
    IntArray,
    Pair,
    first_column,
    relative_steps,
    run_costs,
    trace_back,
)

__all__ = ["align_near_diagonal", "columns_near_diagonal", "may_be_near_diagonal"]

# How many bars may be left out that bars too many make good elsewhere, at most.
MOST_PAIRS_OF_GAPS = 3
# Another round may find a better alignment, but hardly one of the charts that seem to need more.
MOST_HOPED_FOR = 5
# The number of bars may differ by a share of the song's, and by so many at most; else nearly the
# whole table is near the diagonal.
MOST_SHARE, MOST_DIFFERENCE = 0.25, 8
# From so many bars on, few charts differ by as little as this.
MOST_BARS = 150
# Of how many shapes of tables the columns are kept.
MOST_CACHED = 64


def may_be_near_diagonal(n: int, m: int) -> bool:
    """Whether charts of n and m bars are worth aligning near the diagonal."""
    return max(n, m) <= MOST_BARS and abs(n - m) <= min(MOST_DIFFERENCE, MOST_SHARE * n)


@lru_cache(maxsize=MOST_CACHED)
def columns_near_diagonal(n: int, m: int) -> tuple[IntArray, IntArray]:
    """Return the columns near the diagonal, and where the cells are in a table row after row.

    Both have the shape (diagonals, n): each of the n rows has one column on each diagonal. Where
    the diagonal has left the table, it is the nearest column.
    """
    low, high = _ends(n, m)
    columns = np.arange(low, high + 1)[:, None] + np.arange(n)
    np.clip(columns, 0, m - 1, out=columns)
    return columns, columns + m * np.arange(n)


def _ends(n: int, m: int) -> tuple[int, int]:
    """Return the lowest and the highest diagonal, by how many columns are ahead of the rows."""
    return min(0, m - n) - MOST_PAIRS_OF_GAPS, max(0, m - n) + MOST_PAIRS_OF_GAPS


def align_near_diagonal(
    m: int, costs: IntArray, gaps: GapCosts, steps: CostedSteps, most_bonus: int
) -> tuple[list[Pair], list[tuple[int, int]], list[range], int] | None:
    """Align by the costs near the diagonal alone; None if that need not be the least cost.

    Parameters: `costs` are those of the pairs that `columns_near_diagonal` gives, none below
    -`most_bonus`; `steps` are of two bars to one. Returns what `align_by_cost` does.
    """
    n = costs.shape[1]
    relative = relative_steps(steps, gaps)
    band = _Band(n, m, costs, gaps, relative)
    # What a row more than the columns costs at least, and a column more than the rows.
    row = min([gaps.deletion, *[cost for here in steps.values() for up, _, cost in here if up > 1]])
    column = min(
        [gaps.insertion, *[cost for here in steps.values() for up, _, cost in here if up < 2]]
    )
    difference = abs(n - m)
    least = difference * (row if n > m else column) - min(n, m) * most_bonus
    for _ in range(difference):
        band.go_round()
    rounds = difference
    while True:
        last, cost = band.cheapest()
        # So many pairs of a row and a column left alone may be in an alignment of that cost.
        pairs_of_gaps = (cost - least) // (row + column)
        if pairs_of_gaps > MOST_HOPED_FOR:
            return None
        if rounds >= difference + 2 * min(pairs_of_gaps, MOST_PAIRS_OF_GAPS):
            break
        band.go_round()
        band.go_round()
        rounds += 2
    if pairs_of_gaps > MOST_PAIRS_OF_GAPS:
        return None
    return *trace_back(band.table(), relative, last, n, m), cost


class _Band:
    """The cells near the diagonal of a table with n rows and m columns.

    `cells` holds what `CostTable` describes: the least costs, and twice those of runs, after the
    last round and after the one before. One diagonal comes after another, and each by its rows, so
    that what leads to a cell is always as far from it. A cell that no way leads to begins each
    diagonal, and a diagonal of such cells stands on either side.
    """

    def __init__(self, n: int, m: int, costs: IntArray, gaps: GapCosts, steps: CostedSteps) -> None:
        self.n, self.m, self.gaps = n, m, gaps
        self.low, high = _ends(n, m)
        begins, ends = run_costs(gaps)
        self.begins, self.ends = begins.data, ends.data
        shape = diagonals, width = len(costs), n + 2
        self.width, self.size = width, diagonals * width
        self.cells = np.full((3, self.size + 2 * width), NEVER, np.int64)
        # Which of the two holds the runs after the last round.
        self.run = 1
        # What pairs cost along each diagonal up to a cell, and what a run costs at either end.
        along, begun, ended = np.zeros((3, *shape), np.int64)
        beside = costs - (gaps.insertion + gaps.deletion + gaps.per_gap)
        np.add.accumulate(beside, axis=1, out=along[:, 2:])
        begun[:, 1:], ended[:, 1:] = begins, ends
        self.along, self.begun, self.ended = along.ravel(), begun.ravel(), ended.ravel()
        self.steps = [
            (self._at(i, j), self._at(i - up, j - left), cost)
            for (i, j), here in steps.items()
            if self.low <= j - i <= high
            for up, left, cost in here
            if self.low <= j - left - i + up <= high
        ]
        self.found = np.full(self.size, NEVER, np.int64)
        self.by_diagonal = self.found.reshape(shape)
        self.by_diagonal[-self.low :, 1] = 0
        first = first_column(gaps, ends[: 1 - self.low]).tolist()
        for rows, cost in enumerate(first[1:], 1):
            self.by_diagonal[-self.low - rows, rows + 1] = cost
        self._go_along()

    def _at(self, i: int, j: int) -> int:
        """Return where a cell stands, without the diagonal before the first."""
        return (j - i - self.low) * self.width + i + 1

    def go_round(self) -> None:
        """Leave one more row or column alone, anywhere, and go on along the diagonals."""
        width, size, found = self.width, self.size, self.found
        least, run = self.cells[0], self.cells[self.run]
        above = slice(2 * width - 1, 2 * width - 1 + size)
        inside = slice(width, width + size)
        np.add(run[above], self.ended, out=found)
        np.minimum(found, least[above], out=found)
        np.minimum(found, least[:size], out=found)
        np.minimum(found, least[inside], out=found)
        for at, source, cost in self.steps:
            found[at] = min(found.item(at), least.item(width + source) + cost)
        self.run = 3 - self.run
        following = self.cells[self.run][inside]
        np.add(least[above], self.begun, out=following)
        np.minimum(following, run[above], out=following)
        # What stands before the first row has come from the end of the diagonal.
        following[::width] = NEVER
        found[::width] = NEVER
        self._go_along()

    def _go_along(self) -> None:
        """Go on along the diagonals from what is found."""
        self.found -= self.along
        np.minimum.accumulate(self.by_diagonal, axis=1, out=self.by_diagonal)
        np.add(self.found, self.along, out=self.cells[0, self.width : self.width + self.size])

    def cheapest(self) -> tuple[int, int]:
        """Return the rows up to the last pair, and the cost of the whole."""
        n, m, gaps = self.n, self.m, self.gaps
        best, last = NEVER, n
        least = self.cells[0].item
        for row in range(min(n, m - self.low), -1, -1):
            if m - row - self.low >= self.size // self.width:
                break
            # The rows after it are a run that costs nothing to begin or to end.
            cost = least(self.width + self._at(row, m)) + gaps.per_gap * (row + (row < n))
            if cost < best:
                best, last = cost, row
        return last, best + n * gaps.deletion + m * gaps.insertion

    def table(self) -> CostTable:
        """Return the cells as a table, of which only those near the diagonal can be asked for."""
        width, size = self.width, self.size
        least, run = self.cells[0], self.cells[self.run]
        inside, above = least[width : width + size], slice(2 * width - 1, 2 * width - 1 + size)
        by_gap = run[above] + self.ended == inside
        by_gap |= least[above] == inside
        by_gap |= least[:size] == inside
        for at, _, _ in self.steps:
            by_gap[at] = True
        return CostTable(
            self.cells.ravel().data,
            bytes(width) + by_gap.tobytes(),
            self.width + self._at(0, 0),
            1 - self.width,
            self.width,
            self.run * self.cells.shape[1],
            self.begins,
            self.ends,
        )
