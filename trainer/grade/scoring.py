"""Align a song with an answer as it is read, and grade each row.

Bars count from 0 in alignments and from 1 in grades.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from typing import TYPE_CHECKING

from trainer.grade.aligned import AlignedCharts
from trainer.grade.content import BarContent, ChartContent
from trainer.grade.known_bars import known_bars
from trainer.grade.readings import Reading
from trainer.grade.rows import RowBuilder
from trainer.grade.weights import Weights

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from trainer.grade.align import Alignment
    from trainer.grade.align_table import Pair

__all__ = ["align_reading", "different_bars"]

# From this many pairs of different bars, arrays are faster than comparing them one by one,
# although they remember nothing from the last grade.
MANY_PAIRS = 2_500


def align_reading(
    reference: ChartContent,
    reading: Reading,
    weights: Weights,
    favour: NDArray[np.float64] | None = None,
    *,
    unfinished: bool = False,
) -> AlignedCharts:
    """Align a song with an answer as it is read and grade the rows.

    A bar without a partner scores 0. Two bars that stand for one share what that takes away.

    `favour[i, j]` is what pairing two bars is preferred by, `unfinished` whether the answer is read
    as a chart that stops early, see `trainer.grade.align.align`.
    """
    content = reading.content
    if reference.contents == content.contents:
        same: list[Pair] = [(bar, bar) for bar in range(len(reference))]
        builder = RowBuilder(reference, reading, weights)
        return builder.build(reference, range(len(reference)), same, (), (), (), float("nan"))
    # numpy is loaded only once something is graded.
    from trainer.grade.align import lost_bar_for_bar
    from trainer.grade.reordering import align_in_best_order

    if reading.is_as_written and favour is None and not unfinished:
        lost = lost_bar_for_bar(reference, content, weights)
        if lost is not None:
            straight: list[Pair] = [(bar, bar) for bar in range(len(reference))]
            builder = RowBuilder(reference, reading, weights)
            return builder.build(reference, range(len(reference)), straight, (), (), (), lost)
    bar_credits = _bar_credits(reference, content, weights)
    if not reading.is_as_written:
        bar_credits = bar_credits * [one.keep for one in reading.read_bars]
    best = align_in_best_order(
        reference, content, bar_credits, weights, favour, unfinished=unfinished
    )
    order = best.order.bars() if best.swaps else range(len(reference))
    alignment: Alignment = best.alignment
    return RowBuilder(reference, reading, weights).build(
        best.content,
        order,
        alignment.pairs,
        alignment.two_to_one,
        alignment.repeated,
        best.swaps,
        alignment.lost,
    )


def _bar_credits(
    reference: ChartContent, answer: ChartContent, weights: Weights
) -> NDArray[np.float64]:
    """Return the credit of each reference bar written as each answer bar; shape (n, m)."""
    import numpy as np

    rows, ours = different_bars(reference.contents)
    columns, theirs = different_bars(answer.contents)
    if len(ours) * len(theirs) > MANY_PAIRS:
        from trainer.grade.credits import credit_table

        table = credit_table(ours, theirs, weights)
    else:
        pairs = known_bars(weights).compared_each(product(ours, theirs))
        table = np.array([scores[0] for _, scores in pairs]).reshape(len(ours), len(theirs))
    return table.take(rows, 0).take(columns, 1)


def different_bars(contents: Sequence[BarContent]) -> tuple[list[int], list[BarContent]]:
    """Return each bar's number among the different bars, and those bars."""
    different = list(dict.fromkeys(contents))
    number_of = {content: number for number, content in enumerate(different)}
    return [number_of[content] for content in contents], different
