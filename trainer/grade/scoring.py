"""Align two sheets and score each row."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from trainer.grade.alignment import Alignment, Pair
from trainer.grade.compare import Comparison, compare, credit, quality_credit
from trainer.grade.report import BarGrade
from trainer.grade.sheet import Shape, Sheet
from trainer.grade.weights import Weights

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from trainer.grade.swaps import Swap

__all__ = ["Scored", "bars_score", "in_song_order", "score_sheets"]

# From here on arrays are faster, though they remember nothing from the last grade.
MANY_PAIRS = 2_500


@dataclass(frozen=True, slots=True, eq=False)
class Scored:
    """Two sheets aligned: pairs of bars from 0, their comparisons (None beside a gap), grades.

    Rows come in the answer's order. `ordered` is the reference in that order, the same sheet
    unless something is swapped; `order` holds the bars of the reference as they stand there, and
    `places` the pairs counted there. `joins` are the rows, two by two, in which one bar stands for
    two. `spared` bars of what the rows take away are not counted (`swaps.Reading`).
    """

    reference: Sheet
    answer: Sheet
    ordered: Sheet
    order: Sequence[int]
    places: Sequence[Pair]
    pairs: Sequence[Pair]
    comparisons: list[Comparison | None]
    rows: list[BarGrade]
    joins: Sequence[tuple[int, int]]
    swaps: Sequence[Swap]
    spared: float = 0.0

    def loss(self, row: int, weights: Weights) -> float:
        """What a row takes away, in bars."""
        if self.pairs[row][0] is not None:
            return 1.0 - self.rows[row].score
        half = any(row == second for _, second in self.joins)
        return weights.added / 2 if half else weights.added


def _numbered(shapes: tuple[Shape, ...]) -> tuple[list[int], list[Shape]]:
    """Each bar's number among the different bars, and those bars."""
    seen: dict[Shape, int] = {}
    numbers = [seen.setdefault(shape, len(seen)) for shape in shapes]
    return numbers, list(seen)


def score_sheets(reference: Sheet, answer: Sheet, weights: Weights) -> Scored:
    """Align and score. A bar without a partner scores 0.

    One bar that stands for two shares the loss of one bar with it: two bars written as one have
    half of their credit each, a split written as two loses half a bar, and half of what a bar too
    many takes away.
    """
    bars = range(len(reference))
    if reference.shapes == answer.shapes:
        same: list[Pair] = [(bar, bar) for bar in bars]
        return _scored(reference, answer, reference, bars, Alignment(same, [], 0.0), (), weights)
    # numpy is loaded only once something is graded.
    from trainer.grade.swaps import best_reading

    found = best_reading(reference, answer, _worths(reference, answer, weights), weights)
    order = found.order.bars() if found.swaps else bars
    scored = _scored(reference, answer, found.sheet, order, found.alignment, found.swaps, weights)
    return replace(scored, spared=found.spared)


def _scored(
    reference: Sheet,
    answer: Sheet,
    ordered: Sheet,
    order: Sequence[int],
    found: Alignment,
    swaps: Sequence[Swap],
    weights: Weights,
) -> Scored:
    pairs = [(None if one is None else order[one], other) for one, other in found.pairs]
    kept: list[Comparison | None] = []
    grades: list[BarGrade] = []
    for one, other in pairs:
        if one is None or other is None:
            kept.append(None)
            grades.append(
                BarGrade(None if one is None else one + 1, None if other is None else other + 1)
            )
            continue
        c = compare(reference.shapes[one], answer.shapes[other], weights.plain_minor)
        kept.append(c)
        grades.append(
            BarGrade(
                one + 1,
                other + 1,
                credit(c, weights),
                c.root,
                quality_credit(c, weights),
                c.bass,
                c.placement,
                c.articulation,
                c.meter,
                c.key_change,
                c.strict,
            )
        )
    for first, second in found.joins:
        half = 0.5 if pairs[second][1] is None else 1.0 - weights.added / 2
        for row in (first, second):
            if pairs[row][0] is not None:
                grades[row] = replace(grades[row], score=half)
    return Scored(
        reference, answer, ordered, order, found.pairs, pairs, kept, grades, found.joins, swaps
    )


def _worths(reference: Sheet, answer: Sheet, weights: Weights) -> NDArray[np.float64]:
    """The credit of each bar of the reference written as each of the answer; shape (n, m)."""
    import numpy as np

    rows, ours = _numbered(reference.shapes)
    columns, theirs = _numbered(answer.shapes)
    if len(ours) * len(theirs) > MANY_PAIRS:
        from trainer.grade.table import credit_table

        table = credit_table(ours, theirs, weights)
    else:
        house = weights.plain_minor
        table = np.array(
            [[credit(compare(one, other, house), weights) for other in theirs] for one in ours]
        )
    worths: NDArray[np.float64] = table[np.ix_(rows, columns)]
    return worths


def bars_score(scored: Scored, weights: Weights) -> float:
    """Credit of all bars over the reference's, less what bars too many and swaps take away."""
    lost = math.fsum(scored.loss(row, weights) for row in range(len(scored.rows)))
    lost += weights.swapped * len(scored.swaps) - scored.spared
    return max(0.0, 1.0 - lost / len(scored.reference))


def in_song_order(rows: Sequence[BarGrade]) -> tuple[BarGrade, ...]:
    """Rows by bars of the reference; a bar too many stays after the bar it was written after."""
    after, keyed = 0, []
    for place, row in enumerate(rows):
        after = row.reference or after
        keyed.append((after, place, row))
    return tuple([row for _, _, row in sorted(keyed, key=lambda one: one[:2])])
