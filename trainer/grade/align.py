"""Align a learner's bars with the song's bars.

Global alignment after Needleman & Wunsch 1970 (J. Mol. Biol. 48:443-453), with linear gap costs,
one row of the table at a time: along a row the best run of gaps is a running minimum, which numpy
computes at once. Costs are integers, so that equal is equal on every machine.

Where several alignments cost the same, phrases and sections decide: pairing the first bars of two
phrases is preferred (twice over for sections), then pairing bars of sections with the same label.
What is still equal puts the gap as late as it can be, and gaps next to each other. So of five equal
bars in a phrase of five, the fifth is the one left out, wherever the phrase stands.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from trainer.grade.sheet import Sheet

__all__ = ["align", "align_costs"]

UNIT = 100_000_000
TIE = 1_000_000
PHRASE_BONUS, SECTION_BONUS, NAME_BONUS, KIND_BONUS = 8, 8, 2, 1

Pair = tuple[int | None, int | None]
Whole = NDArray[np.int64]


def align(
    reference: Sheet,
    answer: Sheet,
    worths: Sequence[Sequence[float]] | NDArray[np.float64],
    rows: Sequence[int],
    columns: Sequence[int],
    added: float,
) -> list[Pair]:
    """Pair the answer's bars with the reference's at the least cost.

    Parameters: `worths[rows[i]][columns[j]]` is the credit, 0 to 1, of reference bar i written as
    answer bar j; `added` is the cost of a bar too many, in bars; a bar left out costs 1.
    Returns pairs in order, each bar once, counted from 0; None is a gap.
    """
    table = np.rint((1.0 - np.array(worths)) * UNIT).astype(np.int64) * TIE
    costs = table[np.ix_(rows, columns)]
    costs -= _label_bonus(reference, answer)
    costs[np.ix_(reference.limits[:-1], answer.limits[:-1])] -= PHRASE_BONUS
    costs[np.ix_(reference.section_limits[:-1], answer.section_limits[:-1])] -= SECTION_BONUS
    return align_costs(costs, UNIT * TIE, round(added * UNIT) * TIE)[0]


def _label_bonus(reference: Sheet, answer: Sheet) -> Whole:
    """What pairing two bars is worth for the labels of their sections; shape (n, m)."""
    names = [part.name for part in answer.parts]
    worth = np.array(
        [
            [
                NAME_BONUS * (part.name == name) + KIND_BONUS * (kind == other)
                for name, other in zip(names, answer.kinds, strict=True)
            ]
            for part, kind in zip(reference.parts, reference.kinds, strict=True)
        ],
        np.int64,
    )
    return worth[np.ix_(reference.sections, answer.sections)]


def align_costs(costs: Whole, missing: int, added: int) -> tuple[list[Pair], int]:
    """Align by a table of integer costs, shape (n, m).

    Parameters: `missing` and `added` are the costs of a row and of a column left alone.
    Returns the pairs, of the least cost that there is, and that cost. Raises ValueError stating the
    shape where the table is empty.

    >>> align_costs(np.array([[0, 9], [9, 9], [9, 0]]), 5, 5)
    ([(0, 0), (1, None), (2, 1)], 5)
    """
    n, m = costs.shape
    if not n or not m:
        raise ValueError(f"found costs of shape {costs.shape}, expected at least one bar a side")
    slope = np.arange(m + 1, dtype=np.int64) * added
    diagonal = np.empty(m, np.int64)
    table = np.empty((n + 1, m + 1), np.int64)
    table[0] = slope
    for i in range(1, n + 1):
        above, row = table[i - 1], table[i]
        np.add(above, missing, out=row)
        np.add(above[:-1], costs[i - 1], out=diagonal)
        np.minimum(row[1:], diagonal, out=row[1:])
        # Taking the slope off turns "least over all runs of gaps ending here" into a running
        # minimum.
        row -= slope
        np.minimum.accumulate(row, out=row)
        row += slope
    return _trace(table, missing, added), int(table[n, m])


def _trace(table: Whole, missing: int, added: int) -> list[Pair]:
    """Walk back through the table from its end, gaps first."""
    i, j = table.shape[0] - 1, table.shape[1] - 1
    pairs: list[Pair] = []
    cell = table.item
    here = cell(i, j)
    while i or j:
        if i and (up := cell(i - 1, j)) + missing == here:
            i, here = i - 1, up
            pairs.append((i, None))
        elif j and (left := cell(i, j - 1)) + added == here:
            j, here = j - 1, left
            pairs.append((None, j))
        else:
            i, j = i - 1, j - 1
            here = cell(i, j)
            pairs.append((i, j))
    pairs.reverse()
    return pairs
