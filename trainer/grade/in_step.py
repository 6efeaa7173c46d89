"""Take shifted bars of an alignment one for one.

Between a bar left out and one too many the bars stand beside others than those of their number.
They are taken one for one where they agree by less than `LEAST_IN_STEP` as they were shifted; and
in a phrase with as many bars as were written for it, where a bar left out and one too many cost
`Weights.moved` once more, also if that is no dearer.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from trainer.grade.align_table import Pair
from trainer.grade.content import ChartContent
from trainer.grade.weights import Weights

__all__ = ["back_in_step", "bar_for_bar", "bars_too_many"]

# What share of the bars between a bar left out and one too many must agree.
LEAST_IN_STEP = 0.6

FloatArray = NDArray[np.float64]


def back_in_step(
    pairs: list[Pair], bar_credits: FloatArray, fixed: Sequence[Sequence[int]]
) -> list[Pair]:
    """Take bars that are shifted one for one where few of them agree.

    Bars are shifted from a gap on to the gap after which as many bars of either side are
    left alone. Parameters: `fixed` are rows that stay as they are.
    """
    if not bars_too_many(pairs):
        return pairs
    fixed_rows = {row for rows in fixed for row in rows}
    found: list[Pair] = []
    row = 0
    while row < len(pairs):
        end = _end_of_shift(pairs, row) if None in pairs[row] else None
        rows = pairs[row:end]
        if end is None or fixed_rows.intersection(range(row, end)):
            found.append(pairs[row])
            row += 1
            continue
        ours = [one for one, _ in rows if one is not None]
        own = [other for _, other in rows if other is not None]
        agreed = sum(
            bar_credits.item(one, other)
            for one, other in rows
            if one is not None and other is not None
        )
        compared = sum(None not in pair for pair in rows)
        if compared and agreed >= LEAST_IN_STEP * compared:
            found.append(pairs[row])
            row += 1
            continue
        found += zip(ours, own, strict=True)
        row = end
    return found


def bars_too_many(pairs: Sequence[Pair]) -> int:
    """Return how many bars of the answer have no partner."""
    return [one for one, _ in pairs].count(None)


def _end_of_shift(pairs: Sequence[Pair], start: int) -> int | None:
    """Return the row after which as many bars of either side were left alone, or None."""
    drift = 0
    for row in range(start, len(pairs)):
        one, other = pairs[row]
        drift += (one is None) - (other is None)
        if row > start and not drift:
            return row + 1
    return None


def bar_for_bar(
    reference: ChartContent,
    answer: ChartContent,
    pairs: list[Pair],
    lost: float,
    bar_credits: FloatArray,
    weights: Weights,
    fixed: Sequence[Sequence[int]],
) -> tuple[list[Pair], float]:
    """Take the bars of a phrase one for one where that is no dearer than shifting them.

    A phrase counts where as many bars were written for it as it has, some of them too many and
    others left out. Parameters: `pairs` lost `lost` bars; `fixed` are rows that stay as they are.
    Returns the pairs and what is lost then.
    """
    if not bars_too_many(pairs):
        return pairs, lost
    fixed_rows = {row for rows in fixed for row in rows}
    row_of_bar = {one: row for row, (one, _) in enumerate(pairs) if one is not None}
    changed: dict[int, list[Pair]] = {}
    for start, end in pairwise(reference.phrase_boundaries):
        first, after = row_of_bar[start], row_of_bar[end - 1] + 1
        for low, high in _windows(answer, pairs, first, after, end - start):
            rows = pairs[low:high]
            own = [other for _, other in rows if other is not None]
            if any(row in changed or row in fixed_rows for row in range(low, high)):
                continue
            added = sum(one is None for one, _ in rows)
            if not added:
                continue
            straight = sum(1.0 - bar_credits.item(start + k, other) for k, other in enumerate(own))
            shifted = (1.0 + weights.added + weights.moved) * added + sum(
                1.0 - bar_credits.item(one, other)
                for one, other in rows
                if one is not None and other is not None
            )
            if straight <= shifted + weights.moved * added:
                lost += straight - shifted
                changed |= {row: [] for row in range(low, high)}
                changed[low] = list(zip(range(start, end), own, strict=True))
            else:
                lost += weights.moved * added
            break
    return [pair for row, one in enumerate(pairs) for pair in changed.get(row, [one])], lost


def _windows(
    answer: ChartContent, pairs: Sequence[Pair], first: int, after: int, size: int
) -> Iterator[tuple[int, int]]:
    """Give the rows of a phrase that hold `size` bars of the answer.

    Bars too many beside it are taken in where they stand in the same phrase of the answer.
    """
    own = [other for _, other in pairs[first:after] if other is not None]
    missing = size - len(own)
    if missing < 0 or not own:
        return
    phrase_of = answer.phrase_of_bar
    low, high = first, after
    while (
        low
        and pairs[low - 1][0] is None
        and phrase_of[own[0] - first + low - 1] == phrase_of[own[0]]
    ):
        low -= 1
    while (
        high < len(pairs)
        and pairs[high][0] is None
        and phrase_of[own[-1] + high - after + 1] == phrase_of[own[-1]]
    ):
        high += 1
    for before in range(min(missing, first - low), -1, -1):
        if missing - before <= high - after:
            yield first - before, after + missing - before
