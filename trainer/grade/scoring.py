"""Align a song with an answer as it is read, and grade each row.

Bars count from 0 in alignments and from 1 in grades.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING

from trainer.grade.aligned import AlignedCharts
from trainer.grade.compare import bar_credit, compare
from trainer.grade.content import BarContent, ChartContent
from trainer.grade.readings import Reading
from trainer.grade.rows import RowBuilder
from trainer.grade.weights import Weights

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from trainer.grade.align import Alignment
    from trainer.grade.align_table import Pair

__all__ = ["align_reading", "different_bars"]

# From so many pairs of different bars on, arrays are faster than comparing them one by one, though
# they remember nothing from the last grade.
MANY_PAIRS = 2_500
# Of so many weights the credits are kept, and of so many pairs of bars each.
MOST_WEIGHTS, MOST_CACHED = 4, 1 << 14


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
    from trainer.grade.reordering import align_in_best_order

    bar_credits = _bar_credits(reference, content, weights)
    keeps = [one.keep for one in reading.read_bars]
    if min(keeps) < 1.0:
        bar_credits = bar_credits * keeps
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
        known = _known_credits(weights)
        table = np.array([[known.of(one, other) for other in theirs] for one in ours])
    bar_credits: NDArray[np.float64] = table[rows][:, columns]
    return bar_credits


class _KnownCredits:
    """The credits of pairs of bars by some weights, each worked out once."""

    def __init__(self, weights: Weights) -> None:
        self._weights = weights
        self._credits: dict[tuple[BarContent, BarContent], float] = {}

    def of(self, one: BarContent, other: BarContent) -> float:
        """Return the credit of the answer's bar `other` written for the reference's bar `one`."""
        found = self._credits.get((one, other))
        if found is None:
            if len(self._credits) >= MOST_CACHED:
                self._credits.clear()
            found = bar_credit(compare(one, other, self._weights.plain_minor), self._weights)
            self._credits[one, other] = found
        return found


@lru_cache(maxsize=MOST_WEIGHTS)
def _known_credits(weights: Weights) -> _KnownCredits:
    return _KnownCredits(weights)


def different_bars(contents: Sequence[BarContent]) -> tuple[list[int], list[BarContent]]:
    """Return each bar's number among the different bars, and those bars."""
    seen: dict[BarContent, int] = {}
    numbers = [seen.setdefault(content, len(seen)) for content in contents]
    return numbers, list(seen)
