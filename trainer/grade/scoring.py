"""Align two sheets and score each row."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.grade.compare import Comparison, compare, credit, quality_credit
from trainer.grade.report import BarGrade
from trainer.grade.sheet import Shape, Sheet
from trainer.grade.weights import Weights

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

__all__ = ["Scored", "bars_score", "score_sheets"]

# From here on arrays are faster, though they remember nothing from the last grade.
MANY_PAIRS = 2_500

Pair = tuple[int | None, int | None]


@dataclass(frozen=True, slots=True, eq=False)
class Scored:
    """Two sheets aligned: pairs of bars from 0, their comparisons (None beside a gap), grades."""

    reference: Sheet
    answer: Sheet
    pairs: list[Pair]
    comparisons: list[Comparison | None]
    rows: list[BarGrade]


def _numbered(shapes: tuple[Shape, ...]) -> tuple[list[int], list[Shape]]:
    """Each bar's number among the different bars, and those bars."""
    seen: dict[Shape, int] = {}
    numbers = [seen.setdefault(shape, len(seen)) for shape in shapes]
    return numbers, list(seen)


def score_sheets(reference: Sheet, answer: Sheet, weights: Weights) -> Scored:
    """Align and score. A bar without a partner scores 0."""
    pairs = _pairs(reference, answer, weights)
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
    return Scored(reference, answer, pairs, kept, grades)


def _pairs(reference: Sheet, answer: Sheet, weights: Weights) -> list[Pair]:
    """The alignment; one bar beside another needs no search where all of them are the same."""
    if reference.shapes == answer.shapes:
        return [(bar, bar) for bar in range(len(reference))]
    rows, ours = _numbered(reference.shapes)
    columns, theirs = _numbered(answer.shapes)
    # numpy is loaded only once something is graded.
    from trainer.grade.align import align

    return align(reference, answer, _worths(ours, theirs, weights), rows, columns, weights.added)


def _worths(
    ours: list[Shape], theirs: list[Shape], weights: Weights
) -> Sequence[Sequence[float]] | NDArray[np.float64]:
    """The credit of each different bar against each; pair by pair where they are few."""
    if len(ours) * len(theirs) > MANY_PAIRS and not weights.plain_minor:
        from trainer.grade.table import credit_table

        return credit_table(ours, theirs, weights)
    house = weights.plain_minor
    return [[credit(compare(one, other, house), weights) for other in theirs] for one in ours]


def bars_score(scored: Scored, weights: Weights) -> float:
    """Credit of all bars over the reference's bars, less what bars too many take away."""
    total = math.fsum(row.score for row in scored.rows)
    added = sum(row.reference is None for row in scored.rows)
    return max(0.0, total - weights.added * added) / len(scored.reference)
