"""Align a learner's bars with the song's bars.

Global alignment after Needleman & Wunsch 1970 (J. Mol. Biol. 48:443-453), with linear gap costs,
one row of the table at a time: along a row the best run of gaps is a running minimum, which numpy
computes at once. Costs are integers, so that equal is equal on every machine. As in Gale & Church
1993 (Computational Linguistics 19:75-102), two bars of one side may also stand for one of the
other: two bars written as one split bar (their contraction), or a split bar written as two bars
(their expansion). Either is one bar wrong.

Where several alignments cost the same, phrases and sections decide: pairing the first bars of two
phrases is preferred (twice over for sections), then the fewer gaps, then pairing bars of sections
with the same label. What is still equal puts the gap as late as it can be, and gaps next to each
other. So of five equal bars in a phrase of five, the fifth is the one left out, wherever the phrase
stands.

The alignment works on a table of credits, what each bar of the song earns written as each bar of
the answer. `credit_table` computes it for many different bars at once.

This module loads numpy; the rest of the room imports it only once something is graded.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from math import lcm

import numpy as np
from numpy.typing import NDArray

from trainer.grade.content import BarContent, ChartContent, Sonority, as_plain_minor
from trainer.grade.weights import Weights

__all__ = ["Alignment", "Pair", "align", "align_by_cost", "credit_table", "find_two_to_one"]

# A bar of the reference and one of the answer, counted from 0; None beside a gap.
Pair = tuple[int | None, int | None]

# A bar's credit is counted in units of 1 / UNIT, and what breaks ties in units of 1 / TIE of those.
UNIT = 100_000_000
TIE = 1_000_000
PHRASE_BONUS, SECTION_BONUS, GAP, NAME_BONUS, KIND_BONUS = 8, 8, 3, 2, 1

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
# By cell (bars of the reference and of the answer up to there), how many bars of either side that
# end before the cell stand for each other: (1, 2) or (2, 1).
TwoToOne = Mapping[tuple[int, int], tuple[int, int]]


@dataclass(frozen=True, slots=True)
class Alignment:
    """Pairs of bars in order, each bar once. `lost` is the cost in bars.

    `two_to_one` are the rows, two by two, in which two bars stand for one.
    """

    pairs: list[Pair]
    two_to_one: list[tuple[int, int]]
    lost: float


def align(
    reference: ChartContent,
    answer: ChartContent,
    bar_credits: FloatArray,
    added: float,
    two_to_one: TwoToOne,
    *,
    unfinished: bool = False,
) -> Alignment:
    """Pair the answer's bars with the reference's at the least cost.

    Parameters: `bar_credits[i, j]`, shape (n, m), is the credit, 0 to 1, of reference bar i written
    as answer bar j; `added` is the cost of a bar too many, in bars; a bar left out costs 1. Two
    bars written as one cost what a bar left out does, one written as two what a bar too many does.
    With `unfinished` the answer is read as a chart that stops somewhere: the rest of the song costs
    nothing when the place is chosen, but is counted in what is lost.
    """
    bonus = _label_bonus(reference, answer)
    for bonus_here, ours, theirs in (
        (PHRASE_BONUS, reference.phrase_boundaries, answer.phrase_boundaries),
        (SECTION_BONUS, reference.section_boundaries, answer.section_boundaries),
    ):
        bonus[np.ix_(ours[:-1], theirs[:-1])] += bonus_here
    costs = np.rint((1.0 - bar_credits) * UNIT).astype(np.int64) * TIE - bonus
    deletion_cost, insertion_cost = UNIT * TIE + GAP, round(added * UNIT) * TIE + GAP
    steps = {
        (i, j): (
            up,
            left,
            (deletion_cost if up == 2 else insertion_cost) - bonus.item(i - up, j - left),
        )
        for (i, j), (up, left) in two_to_one.items()
    }
    pairs, rows, cost = align_by_cost(
        costs, deletion_cost, insertion_cost, steps, unfinished=unfinished
    )
    return Alignment(pairs, rows, round(cost / TIE) / UNIT)


def _label_bonus(reference: ChartContent, answer: ChartContent) -> IntArray:
    """Return what pairing two bars is worth for the labels of their sections; shape (n, m)."""
    names = [section.name for section in answer.sections]
    worth = np.array(
        [
            [
                NAME_BONUS * (section.name == name) + KIND_BONUS * (kind == other)
                for name, other in zip(names, answer.section_kinds, strict=True)
            ]
            for section, kind in zip(reference.sections, reference.section_kinds, strict=True)
        ],
        np.int64,
    )
    return worth[np.ix_(reference.section_of_bar, answer.section_of_bar)]


def find_two_to_one(ours: Sequence[BarContent], theirs: Sequence[BarContent]) -> TwoToOne:
    """Find where one bar holds just the chords of two bars of the other side.

    Two bars that go on with one chord are no split. Returns them by the cell they end at.
    """
    found: dict[tuple[int, int], tuple[int, int]] = {}
    for one, two, step in ((ours, theirs, (1, 2)), (theirs, ours, (2, 1))):
        splits = {bar.progression for bar in one if len(bar.progression) > 1}
        if not splits:
            continue
        ends: dict[object, list[int]] = {}
        for k in range(1, len(two)):
            before, here = two[k - 1].progression, two[k].progression
            if before + here in splits and before != here and not two[k].key_change:
                ends.setdefault(before + here, []).append(k)
        for k, bar in enumerate(one):
            for end in ends.get(bar.progression, ()):
                if bar.key_change == two[end - 1].key_change:
                    found[(k + 1, end + 1) if step == (1, 2) else (end + 1, k + 1)] = step
    return found


def align_by_cost(
    costs: IntArray,
    deletion_cost: int,
    insertion_cost: int,
    steps: Mapping[tuple[int, int], tuple[int, int, int]] | None = None,
    *,
    unfinished: bool = False,
) -> tuple[list[Pair], list[tuple[int, int]], int]:
    """Align by a table of integer costs, shape (n, m).

    Parameters: `deletion_cost` and `insertion_cost` are the costs of a row and of a column left
    alone; `steps` are further ways to reach a cell: rows up, columns left, and the cost. With
    `unfinished` the rows after the last pair are left out of the comparison, and added to the cost
    that is returned. Returns the pairs, of the least cost that there is, the rows of pairs that
    came by a step, and that cost. Raises ValueError stating the shape where the table is empty.

    >>> align_by_cost(np.array([[0, 9], [9, 9], [9, 0]]), 5, 5)
    ([(0, 0), (1, None), (2, 1)], [], 5)
    """
    n, m = costs.shape
    if not n or not m:
        raise ValueError(f"found costs of shape {costs.shape}, expected at least one bar a side")
    steps = steps or {}
    # With the insertion cost taken off once for each column passed, a run of gaps along a row costs
    # nothing, and the least over all runs that end in a cell is a running minimum.
    by_row: dict[int, list[tuple[int, int, int, int]]] = {}
    for (i, j), (up, left, cost) in steps.items():
        by_row.setdefault(i, []).append((j, up, left, cost - left * insertion_cost))
    beside = costs - insertion_cost
    diagonal = np.empty(m, np.int64)
    table = np.zeros((n + 1, m + 1), np.int64)
    for i in range(1, n + 1):
        above, row = table[i - 1], table[i]
        np.add(above, deletion_cost, out=row)
        np.add(above[:-1], beside[i - 1], out=diagonal)
        np.minimum(row[1:], diagonal, out=row[1:])
        for j, up, left, cost in by_row.get(i, ()):
            row[j] = min(row.item(j), table.item(i - up, j - left) + cost)
        np.minimum.accumulate(row, out=row)
    last = int(np.argmin(table[:, m])) if unfinished else n
    pairs, rows = _trace_back(table[: last + 1], deletion_cost, insertion_cost, steps)
    pairs += [(row, None) for row in range(last, n)]
    return pairs, rows, int(table[last, m]) + m * insertion_cost + (n - last) * deletion_cost


def _trace_back(
    table: IntArray,
    deletion_cost: int,
    insertion_cost: int,
    steps: Mapping[tuple[int, int], tuple[int, int, int]],
) -> tuple[list[Pair], list[tuple[int, int]]]:
    """Walk back through the table from its end: steps first, then gaps.

    The table has the insertion cost taken off once for each column.
    """
    i, j = table.shape[0] - 1, table.shape[1] - 1
    pairs: list[Pair] = []
    stepped: list[int] = []
    cell = table.item
    here = cell(i, j)
    while i or j:
        step = steps.get((i, j))
        if step and (
            (back := cell(i - step[0], j - step[1])) + step[2] - step[1] * insertion_cost == here
        ):
            pairs.append((i - 1, None) if step[0] == 2 else (None, j - 1))
            i, j, here = i - step[0], j - step[1], back
            pairs.append((i, j))
            stepped.append(len(pairs))
        elif i and (up := cell(i - 1, j)) + deletion_cost == here:
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
    return pairs, [(len(pairs) - k, len(pairs) - k + 1) for k in reversed(stepped)]


# A component's value for each pair of bars, and whether it counts there; shape (n, m) both.
Component = tuple[FloatArray, NDArray[np.bool_]]
BIT_COUNTS = np.array([number.bit_count() for number in range(1 << 12)], np.float64)


def credit_table(
    ours: Sequence[BarContent], theirs: Sequence[BarContent], weights: Weights
) -> FloatArray:
    """Return the credit, 0 to 1, of each bar of `ours` written as each of `theirs`; shape (n, m).

    It is `bar_credit(compare(one, other, ...), weights)` for every pair, computed in arrays, which
    is faster where neither side repeats itself. All bars are cut at every place where any of them
    changes.
    """
    grid = lcm(*(bar.grid for bar in (*ours, *theirs)))
    cuts = sorted({at * (grid // bar.grid) for bar in (*ours, *theirs) for at in bar.starts})
    played, one = _sonorities_at(ours, cuts, grid)
    written, other = _sonorities_at(theirs, cuts, grid)
    chords = _chord_credits(played, written, weights)
    worth = np.zeros((len(ours), len(theirs)))
    for length, row, column in zip(np.diff([*cuts, grid]) / grid, one.T, other.T, strict=True):
        worth += length * chords[np.ix_(row, column)]
    total = np.full(worth.shape, weights.chord)
    worth *= weights.chord
    changes = [[bar.changes_on(grid) for bar in bars] for bars in (ours, theirs)]
    articulations = [[bar.articulations_on(grid) for bar in bars] for bars in (ours, theirs)]
    for weight, (value, counts) in (
        (weights.placement, _f_measures(*changes)),
        (weights.articulation, _f_measures(*articulations)),
        (weights.meter, _meters(ours, theirs)),
        (weights.key_change, _key_changes(ours, theirs)),
    ):
        worth += weight * counts * value
        total += weight * counts
    table: FloatArray = np.minimum(worth / total, 1.0)
    return table


def _sonorities_at(
    bars: Sequence[BarContent], cuts: Sequence[int], grid: int
) -> tuple[list[Sonority], NDArray[np.intp]]:
    """Return the different sonorities, and which sounds after each cut; shape (bars, cuts)."""
    numbers: dict[tuple[int, int, int, str], int] = {}
    sonorities: list[Sonority] = []
    table = np.empty((len(bars), len(cuts)), np.intp)
    column = {cut: k for k, cut in enumerate(cuts)}
    for row, bar in enumerate(bars):
        up = grid // bar.grid
        for start, sonority in zip(bar.starts, bar.sonorities, strict=True):
            key = sonority.root, sonority.bass, sonority.tones, sonority.name
            if key not in numbers:
                numbers[key] = len(sonorities)
                sonorities.append(sonority)
            table[row, column[start * up] :] = numbers[key]
    return sonorities, table


def _chord_credits(
    played: Sequence[Sonority], written: Sequence[Sonority], w: Weights
) -> FloatArray:
    """Return the chord's credit of each sonority written as each; shape (played, written)."""
    one, other = (_as_arrays(sonorities) for sonorities in (played, written))
    table = _chord_credit([part[:, None] for part in one], [part[None, :] for part in other], w)
    if w.plain_minor:
        for column, plain in enumerate(written):
            for row, heard in enumerate(played):
                minor = as_plain_minor(plain, heard)
                if minor is not plain:
                    table[row, column] = _chord_credit(
                        [part[row : row + 1] for part in one], _as_arrays([minor]), w
                    ).item()
    return table


def _as_arrays(sonorities: Sequence[Sonority]) -> list[NDArray[np.int16]]:
    """Return the roots, basses, tones and all tones, an array of each."""
    rows = [(one.root, one.bass, one.tones, one.all_tones) for one in sonorities]
    return list(np.array(rows, np.int16).T)


def _chord_credit(
    one: Sequence[NDArray[np.int16]], other: Sequence[NDArray[np.int16]], w: Weights
) -> FloatArray:
    same = (one[1] == other[1]) & (one[3] == other[3])
    right = w.root * (one[0] == other[0])
    if not w.all_or_nothing:
        either = np.maximum(BIT_COUNTS[one[2] | other[2]], 1.0)
        similarity = BIT_COUNTS[one[2] & other[2]] / either
        quality = np.where(one[2] == other[2], 1.0, w.shared_tones * similarity)
        right = right + w.quality * quality + w.bass * (one[1] == other[1])
    credit: FloatArray = np.where(same, 1.0, right / w.chord)
    return credit


def _f_measures(
    ours: Sequence[AbstractSet[object]], theirs: Sequence[AbstractSet[object]]
) -> Component:
    """F-measure of the sets of each pair of bars; counts where either set has a member."""
    rows, columns = _by_member(ours), _by_member(theirs)
    common = np.zeros((len(ours), len(theirs)))
    for member, bars in rows.items():
        if member in columns:
            common[np.ix_(bars, columns[member])] += 1
    number = np.array([len(bar) for bar in ours])[:, None] + [len(bar) for bar in theirs]
    return 2 * common / np.maximum(number, 1), number > 0


def _by_member(sets: Sequence[AbstractSet[object]]) -> dict[object, list[int]]:
    """Return the numbers of the sets that have each member."""
    found: dict[object, list[int]] = {}
    for number, members in enumerate(sets):
        for member in members:
            found.setdefault(member, []).append(number)
    return found


def _meters(ours: Sequence[BarContent], theirs: Sequence[BarContent]) -> Component:
    """Return 0, which counts where the meters differ."""
    numbers: dict[tuple[int, int], int] = {}
    one, other = (
        np.array([numbers.setdefault(bar.meter, len(numbers)) for bar in bars])
        for bars in (ours, theirs)
    )
    differ = one[:, None] != other[None, :]
    return np.zeros(differ.shape), differ


def _key_changes(ours: Sequence[BarContent], theirs: Sequence[BarContent]) -> Component:
    """Return 1 for the same interval, else 0; counts where either side changes key."""
    one, other = (np.array([bar.key_change for bar in bars]) for bars in (ours, theirs))
    agree = (one[:, None] - other[None, :]) % 12 == 0
    return agree.astype(np.float64), (one[:, None] != 0) | (other[None, :] != 0)
