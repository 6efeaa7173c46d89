"""Align a learner's bars with the song's bars.

Global alignment after Needleman & Wunsch 1970 (J. Mol. Biol. 48:443-453), with linear gap costs,
one row of the table at a time: along a row the best run of gaps is a running minimum, which numpy
computes at once. Costs are integers, so that equal is equal on every machine. As in Gale & Church
1993 (Computational Linguistics 19:75-102), one bar may also stand for two: a split written as two
bars, or two bars written as one split (`joins`); that is one bar wrong.

Where several alignments cost the same, phrases and sections decide: pairing the first bars of two
phrases is preferred (twice over for sections), then the fewer gaps, then pairing bars of sections
with the same label. What is still equal puts the gap as late as it can be, and gaps next to each
other. So of five equal bars in a phrase of five, the fifth is the one left out, wherever the phrase
stands.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from trainer.grade.alignment import Alignment, Pair
from trainer.grade.sheet import Shape, Sheet

__all__ = ["align", "align_costs", "find_joins"]

UNIT = 100_000_000
TIE = 1_000_000
PHRASE_BONUS, SECTION_BONUS, GAP, NAME_BONUS, KIND_BONUS = 8, 8, 3, 2, 1

Whole = NDArray[np.int64]
# How many bars of either side, ending before the cell, stand for each other: (1, 2) or (2, 1).
Joins = Mapping[tuple[int, int], tuple[int, int]]


def align(
    reference: Sheet,
    answer: Sheet,
    worths: NDArray[np.float64],
    added: float,
    joins: Joins,
    *,
    stops: bool = False,
) -> Alignment:
    """Pair the answer's bars with the reference's at the least cost.

    Parameters: `worths[i, j]` is the credit, 0 to 1, of reference bar i written as answer bar j;
    `added` is the cost of a bar too many, in bars; a bar left out costs 1. Two bars written as one
    cost what a bar left out does, one written as two what a bar too many does. With `stops` the
    answer is read as a chart that stops somewhere: where the rest costs nothing, that is, though
    it is counted in what is lost.
    """
    bonus = _label_bonus(reference, answer)
    bonus[np.ix_(reference.limits[:-1], answer.limits[:-1])] += PHRASE_BONUS
    bonus[np.ix_(reference.section_limits[:-1], answer.section_limits[:-1])] += SECTION_BONUS
    costs = np.rint((1.0 - worths) * UNIT).astype(np.int64) * TIE - bonus
    missing, extra = UNIT * TIE + GAP, round(added * UNIT) * TIE + GAP
    steps = {
        (i, j): (up, left, (missing if up == 2 else extra) - bonus.item(i - up, j - left))
        for (i, j), (up, left) in joins.items()
    }
    pairs, rows, cost = align_costs(costs, missing, extra, steps, stops=stops)
    return Alignment(pairs, rows, round(cost / TIE) / UNIT)


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


def find_joins(ours: Sequence[Shape], theirs: Sequence[Shape]) -> Joins:
    """Where one bar holds just the chords of two bars of the other side, by the cell they end at.

    Two bars that go on with one chord are no split.
    """
    joins: dict[tuple[int, int], tuple[int, int]] = {}
    for one, two, step in ((ours, theirs, (1, 2)), (theirs, ours, (2, 1))):
        split = {shape.heard for shape in one if len(shape.heard) > 1}
        if not split:
            continue
        ends: dict[object, list[int]] = {}
        for k in range(1, len(two)):
            heard = two[k - 1].heard + two[k].heard
            if heard in split and two[k - 1].heard != two[k].heard and not two[k].key_change:
                ends.setdefault(heard, []).append(k)
        for k, shape in enumerate(one):
            for end in ends.get(shape.heard, ()):
                if shape.key_change == two[end - 1].key_change:
                    joins[(k + 1, end + 1) if step == (1, 2) else (end + 1, k + 1)] = step
    return joins


def align_costs(
    costs: Whole,
    missing: int,
    added: int,
    steps: Mapping[tuple[int, int], tuple[int, int, int]] | None = None,
    *,
    stops: bool = False,
) -> tuple[list[Pair], list[tuple[int, int]], int]:
    """Align by a table of integer costs, shape (n, m).

    Parameters: `missing` and `added` are the costs of a row and of a column left alone; `steps`
    are further ways to reach a cell: rows up, columns left, and the cost. With `stops` the rows
    after the last pair are left out of the comparison, and added to the cost that is returned.
    Returns the pairs, of the least cost that there is, the rows of pairs that came by a step, and
    that cost. Raises ValueError stating the shape where the table is empty.

    >>> align_costs(np.array([[0, 9], [9, 9], [9, 0]]), 5, 5)
    ([(0, 0), (1, None), (2, 1)], [], 5)
    """
    n, m = costs.shape
    if not n or not m:
        raise ValueError(f"found costs of shape {costs.shape}, expected at least one bar a side")
    steps = steps or {}
    # With `added` taken off once for each column passed, a run of gaps along a row costs nothing,
    # and the least over all runs that end in a cell is a running minimum.
    by_row: dict[int, list[tuple[int, int, int, int]]] = {}
    for (i, j), (up, left, cost) in steps.items():
        by_row.setdefault(i, []).append((j, up, left, cost - left * added))
    beside = costs - added
    diagonal = np.empty(m, np.int64)
    table = np.zeros((n + 1, m + 1), np.int64)
    for i in range(1, n + 1):
        above, row = table[i - 1], table[i]
        np.add(above, missing, out=row)
        np.add(above[:-1], beside[i - 1], out=diagonal)
        np.minimum(row[1:], diagonal, out=row[1:])
        for j, up, left, cost in by_row.get(i, ()):
            row[j] = min(row.item(j), table.item(i - up, j - left) + cost)
        np.minimum.accumulate(row, out=row)
    last = int(np.argmin(table[:, m])) if stops else n
    pairs, joins = _trace(table[: last + 1], missing, added, steps)
    pairs += [(row, None) for row in range(last, n)]
    return pairs, joins, int(table[last, m]) + m * added + (n - last) * missing


def _trace(
    table: Whole, missing: int, added: int, steps: Mapping[tuple[int, int], tuple[int, int, int]]
) -> tuple[list[Pair], list[tuple[int, int]]]:
    """Walk back through the table from its end: steps first, then gaps.

    The table has `added` taken off once for each column.
    """
    i, j = table.shape[0] - 1, table.shape[1] - 1
    pairs: list[Pair] = []
    joins: list[int] = []
    cell = table.item
    here = cell(i, j)
    while i or j:
        step = steps.get((i, j))
        if step and ((back := cell(i - step[0], j - step[1])) + step[2] - step[1] * added == here):
            pairs.append((i - 1, None) if step[0] == 2 else (None, j - 1))
            i, j, here = i - step[0], j - step[1], back
            pairs.append((i, j))
            joins.append(len(pairs))
        elif i and (up := cell(i - 1, j)) + missing == here:
            i, here = i - 1, up
            pairs.append((i, None))
        elif j and cell(i, j - 1) == here:
            j -= 1
            pairs.append((None, j))
        else:
            i, j = i - 1, j - 1
            here = cell(i, j)
            pairs.append((i, j))
    pairs.reverse()
    return pairs, [(len(pairs) - k, len(pairs) - k + 1) for k in reversed(joins)]
