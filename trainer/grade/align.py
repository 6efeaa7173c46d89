"""Align a learner's bars with the song's bars.

Global alignment after Needleman & Wunsch 1970 (J. Mol. Biol. 48:443-453), one row of the table at a
time: along a row the best run of gaps is a running minimum, which numpy computes at once. Costs are
integers, so that equal is equal on every machine. What each act costs is declared in `Weights`:

- A bar left out costs a bar, a bar too many `added`. Where the chart has as many bars as the song
  or fewer, no bar need be too many, so each costs `moved` more; where it has more bars, each bar
  left out does. So bars are taken one for one unless shifting them is clearly better.
- Each place where bars are left out costs `lost_place` besides, but for the first, and as much for
  each end of a stretch of three bars or more that is not the end of a phrase, the start and the end
  of the song aside; two bars are two places if that is cheaper (affine gaps, Gotoh 1982, J. Mol.
  Biol. 162:705-708).
- As in Gale & Church 1993 (Computational Linguistics 19:75-102), two bars of one side may stand for
  one of the other: two bars written as one split bar (their contraction), or a split bar written as
  two bars (their expansion). Either is one bar wrong.
- A phrase or section written again costs `repeated` for each of its bars.

Where several alignments cost the same, phrases and sections decide: pairing the first bars of two
phrases counts most (twice over for sections), then the fewer gaps, then pairing bars of sections
with the same label; these add up. What is still equal puts the gap as late as it can be, and gaps
next to each other. So of five equal bars in a phrase of five, the fifth is the one left out,
wherever the phrase stands.

Finally the rows between a bar left out and one too many are looked at again (`in_step`).

This module loads numpy; the rest of the room imports it only once something is graded.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from trainer.grade.align_band import (
    align_near_diagonal,
    columns_near_diagonal,
    may_be_near_diagonal,
)
from trainer.grade.align_table import NEVER, GapCosts, IntArray, Pair, align_by_cost
from trainer.grade.content import BarContent, ChartContent
from trainer.grade.in_step import back_in_step, bar_for_bar, bars_too_many
from trainer.grade.known_bars import known_bars
from trainer.grade.pair_bonus import MOST_BONUS, PairBonus
from trainer.grade.weights import Weights

__all__ = ["Alignment", "Step", "align", "diagonal_sums", "find_steps", "lost_bar_for_bar"]

# A bar's credit is counted in units of 1 / UNIT, and what breaks ties in units of 1 / TIE of those.
UNIT = 100_000_000
TIE = 1_000_000
# A run of exactly this many bars may also be taken as one gap for each bar.
FEW_BARS = 2
PER_GAP, PER_BAR = 4, 3
# What share of a phrase or section must agree with what is taken to be written again.
LEAST_REPEATED = 0.75
# In charts so long that the table has more cells, repeats are not looked for.
MOST_CELLS_WITH_REPEATS = 500_000
# If no run of bars was added, repeats are looked for only if at least this many bars were lost, and
# at least this share of the song's bars.
LEAST_LOST_WITH_REPEATS, SHARE_LOST_WITH_REPEATS = 3, 0.15

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Step:
    """Another way to reach a cell of the table: `up` rows and `left` columns back, at a cost.

    (1, 2) and (2, 1) are two bars that stand for one; (0, n) are n bars written again.
    """

    up: int
    left: int
    lost: float


# The steps by the cell they end at: bars of the reference and of the answer up to there.
Steps = Mapping[tuple[int, int], Sequence[Step]]


@dataclass(frozen=True, slots=True)
class Alignment:
    """Pairs of bars in order, each bar once. `lost` is the cost in bars.

    `two_to_one` are the rows, two by two, in which two bars stand for one; `repeated` are the rows
    of bars written again, a run for each phrase or section.
    """

    pairs: list[Pair]
    two_to_one: list[tuple[int, int]]
    repeated: list[range]
    lost: float


def align(
    reference: ChartContent,
    answer: ChartContent,
    bar_credits: FloatArray,
    weights: Weights,
    steps: dict[tuple[int, int], list[Step]],
    favour: FloatArray | None = None,
    *,
    unfinished: bool = False,
) -> Alignment:
    """Pair the answer's bars with the reference's at the least cost.

    Parameters: `bar_credits[i, j]`, shape (n, m), is the credit, 0 to 1, of reference bar i written
    as answer bar j; `steps` are `find_steps` of the two. `favour`, shape (n, m), is what a pair is
    preferred by, in bars; it chooses, and is not counted in what is lost. With `unfinished` the
    answer is read as a chart that was written straight from the start of the song and stops
    somewhere: bars are left out before its end only where that explains much.
    """
    n, m = bar_credits.shape
    bonus = PairBonus(reference, answer)
    gaps = _gap_costs(reference, n, m, weights)
    if unfinished:
        never = np.full(n + 1, NEVER // (n + m))
        strict = replace(gaps, per_gap=UNIT * TIE, opening=never, closing=never)
        pairs, _, _, _ = align_by_cost(_pair_costs(bar_credits, bonus.table(), favour), strict)
        return Alignment(pairs, [], [], _lost_in(pairs, bar_credits, gaps))
    found = None
    if favour is None:
        found = _align_near_diagonal(bar_credits, bonus, gaps, steps)
    if found is None:
        costs = _pair_costs(bar_credits, bonus.table(), favour)
        found = align_by_cost(costs, gaps, _costed(steps, bonus))
    pairs, rows, repeated, cost = found
    extra = bars_too_many(pairs) > 1 and any(
        one is None and other is None for (one, _), (other, _) in pairwise(pairs)
    )
    much = max(LEAST_LOST_WITH_REPEATS, SHARE_LOST_WITH_REPEATS * n) * UNIT * TIE
    extra = extra or (m >= n and cost > much)
    if extra and n * m <= MOST_CELLS_WITH_REPEATS:
        # Bars too many in a row may be a phrase that was written again.
        steps = {cell: list(here) for cell, here in steps.items()}
        if _add_repeats(steps, reference, answer, bar_credits, weights):
            costs = _pair_costs(bar_credits, bonus.table(), favour)
            pairs, rows, repeated, cost = align_by_cost(costs, gaps, _costed(steps, bonus))
    lost = round(cost / TIE) / UNIT
    left_out = [row for row, (_, other) in enumerate(pairs) if other is None]
    if left_out and not {row for both in rows for row in both}.issuperset(left_out):
        # The first place where bars are left out costs those bars alone.
        lost -= weights.lost_place
    if favour is not None:
        lost += sum(
            favour.item(one, other) for one, other in pairs if one is not None and other is not None
        )
    fixed = [*rows, *repeated]
    straight = back_in_step(pairs, bar_credits, fixed)
    if straight != pairs:
        lost += _lost_in(straight, bar_credits, gaps) - _lost_in(pairs, bar_credits, gaps)
    else:
        straight, lost = bar_for_bar(reference, answer, pairs, lost, bar_credits, weights, fixed)
    if straight != pairs:
        row_of = {pair: row for row, pair in enumerate(straight)}
        rows = [(row_of[pairs[one]], row_of[pairs[other]]) for one, other in rows]
        repeated = [range(row_of[pairs[run[0]]], row_of[pairs[run[-1]]] + 1) for run in repeated]
    return Alignment(straight, rows, repeated, lost)


def lost_bar_for_bar(
    reference: ChartContent, answer: ChartContent, weights: Weights
) -> float | None:
    """Return what an answer loses bar for bar, in bars; None if another alignment may lose less.

    No other alignment does if a bar left out and one too many, or two bars for one and one for two,
    cost more; nor is a swap or a phrase written again looked for where so little is lost.
    """
    if len(reference) != len(answer):
        return None
    compared = known_bars(weights).compared
    most = round(min(weights.swapped, LEAST_LOST_WITH_REPEATS) * UNIT)
    lost = 0
    for one, other in zip(reference.contents, answer.contents, strict=True):
        if one is not other:
            lost += round((1.0 - compared(one, other)[1][0]) * UNIT)
            if lost > most:
                return None
    # Rounding, and what breaks ties, come to less than a unit for each bar.
    least = (1.0 + weights.added + weights.moved) * UNIT - len(reference)
    joined = min(1.0, weights.split) + min(weights.added + weights.moved, weights.split)
    if lost >= joined * UNIT - len(reference) and (_is_split(reference) or _is_split(answer)):
        return None
    return lost / UNIT if lost < least else None


def _is_split(chart: ChartContent) -> bool:
    """Whether any bar of a chart holds several chords, which may be written as two bars."""
    return any(len(bar.progression) > 1 for bar in chart.contents)


def _gap_costs(reference: ChartContent, n: int, m: int, weights: Weights) -> GapCosts:
    deletion = 1.0 + weights.moved * (m > n)
    insertion = weights.added + weights.moved * (m <= n)
    per_gap = round(weights.lost_place * UNIT) * TIE
    inside = np.full(n + 1, per_gap)
    inside[list(reference.phrase_boundaries)] = 0
    return GapCosts(
        round(deletion * UNIT) * TIE + PER_BAR,
        round(insertion * UNIT) * TIE + PER_BAR,
        per_gap + PER_GAP,
        inside,
        inside,
    )


def _pair_costs(
    bar_credits: FloatArray, bonus: IntArray, favour: FloatArray | None = None
) -> IntArray:
    """Return what pairs of bars cost, in units of the table; all of one shape."""
    losses = 1.0 - bar_credits
    losses *= UNIT
    costs = np.rint(losses, out=losses).astype(np.int64)
    costs *= TIE
    costs -= bonus
    if favour is not None:
        costs -= np.rint(favour * UNIT).astype(np.int64) * TIE
    return costs


def _align_near_diagonal(
    bar_credits: FloatArray, bonus: PairBonus, gaps: GapCosts, steps: Steps
) -> tuple[list[Pair], list[tuple[int, int]], list[range], int] | None:
    """Align by the cells near the diagonal alone; None if that need not be the least cost."""
    n, m = bar_credits.shape
    if not may_be_near_diagonal(n, m):
        return None
    columns, cells = columns_near_diagonal(n, m)
    costs = _pair_costs(bar_credits.take(cells), bonus.near_diagonal(columns))
    return align_near_diagonal(m, costs, gaps, _costed(steps, bonus), MOST_BONUS)


def _costed(steps: Steps, bonus: PairBonus) -> dict[tuple[int, int], list[tuple[int, int, int]]]:
    """Return the steps with their costs in units of the table."""
    return {
        (i, j): [
            (
                step.up,
                step.left,
                round(step.lost * UNIT) * TIE
                + PER_BAR
                - (bonus.of(i - step.up, j - step.left) if step.up else 0),
            )
            for step in here
        ]
        for (i, j), here in steps.items()
    }


def find_steps(
    reference: ChartContent, answer: ChartContent, weights: Weights
) -> dict[tuple[int, int], list[Step]]:
    """Find where two bars stand for one."""
    found: dict[tuple[int, int], list[Step]] = {}
    for cell, (up, left) in _two_to_one(reference.contents, answer.contents).items():
        found.setdefault(cell, []).append(Step(up, left, weights.split))
    return found


def _add_repeats(
    found: dict[tuple[int, int], list[Step]],
    reference: ChartContent,
    answer: ChartContent,
    bar_credits: FloatArray,
    weights: Weights,
) -> bool:
    """Add the steps in which a phrase or section is written again; return whether there are any."""
    added = False
    reach = max(len(reference), len(answer))
    sums = diagonal_sums(bar_credits, reach)
    for start, end in _repeatable(reference):
        size = end - start
        columns = start - np.arange(1, len(answer) - size + 1) + reach
        along = sums[end, columns] - sums[start, columns]
        for before in np.flatnonzero(along >= LEAST_REPEATED * size).tolist():
            first, agreed = before + 1, along.item(before)
            if agreed:
                lost = size - (1.0 - weights.repeated) * agreed
                if len(answer) <= len(reference):
                    lost += weights.moved * size
                cell = end, first + size
                found.setdefault(cell, []).append(Step(0, size, lost))
                added = True
    return added


def _repeatable(reference: ChartContent) -> list[tuple[int, int]]:
    """Return first bar and end of the phrases and sections of two bars or more, each once."""
    blocks = [*pairwise(reference.phrase_boundaries), *pairwise(reference.section_boundaries)]
    return [(start, end) for start, end in dict.fromkeys(blocks) if end - start > 1]


def _two_to_one(
    ours: Sequence[BarContent], theirs: Sequence[BarContent]
) -> dict[tuple[int, int], tuple[int, int]]:
    """Find where one bar holds just the chords of two bars of the other side.

    Two bars that go on with one chord are no split. Returns them by the cell they end at.
    """
    found: dict[tuple[int, int], tuple[int, int]] = {}
    for one, two, step in ((ours, theirs, (1, 2)), (theirs, ours, (2, 1))):
        splits = {bar.progression for bar in one if len(bar.progression) > 1}
        if not splits:
            continue
        ends: dict[object, list[int]] = {}
        begins = {split[0] for split in splits}
        for k, (before, here) in enumerate(pairwise([bar.progression for bar in two]), 1):
            if before[0] not in begins or before == here or two[k].key_change:
                continue
            if before + here in splits:
                ends.setdefault(before + here, []).append(k)
        if not ends:
            continue
        for k, bar in enumerate(one):
            for end in ends.get(bar.progression, ()):
                if bar.key_change == two[end - 1].key_change:
                    found[(k + 1, end + 1) if step == (1, 2) else (end + 1, k + 1)] = step
    return found


def diagonal_sums(bar_credits: FloatArray, reach: int) -> FloatArray:
    """Sum credits down the diagonals at most `reach` away from the first, that is, i - j from
    -reach to reach, for i from 0 to n; shape (n + 1, 2 * reach + 1).
    """
    n, m = bar_credits.shape
    width = max(m, reach) + reach
    wide = np.zeros((n, 2 * width + n))
    wide[:, width - m : width] = bar_credits[:, ::-1]
    # Each row one to the left of the row above.
    slanted = wide.ravel()[: n * (2 * width + n - 1)].reshape(n, 2 * width + n - 1)
    sums = np.zeros((n + 1, 2 * reach + 1))
    np.add.accumulate(slanted[:, width - 1 - reach : width + reach], axis=0, out=sums[1:])
    return sums


def _lost_in(pairs: Sequence[Pair], bar_credits: FloatArray, gaps: GapCosts) -> float:
    """Return what pairs lose, in bars, steps left aside."""
    cost, at, run, gap_count = 0, 0, 0, 0
    for one, other in pairs:
        if other is None:
            at, run, cost = at + 1, run + 1, cost + gaps.deletion
            continue
        if run:
            gap_count += 1
            cost += gaps.per_gap * (gap_count > 1)
        if run > 1:
            ends = gaps.opening.item(at - run) + gaps.closing.item(at)
            cost += min(ends, gaps.per_gap) if run == FEW_BARS else ends
        run = 0
        if one is None:
            cost += gaps.insertion
        else:
            at += 1
            cost += round((1.0 - bar_credits.item(one, other)) * UNIT) * TIE
    cost += gaps.per_gap * (run > 0 and gap_count > 0)
    return round(cost / TIE) / UNIT
