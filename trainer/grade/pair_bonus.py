"""What pairing two bars is worth where alignments cost the same, in units of the table of costs.

Pairing the first bars of two phrases counts most (twice over for sections), then pairing bars of
sections with the same label; `align` counts the fewer gaps between the two.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from trainer.grade.align_table import IntArray
from trainer.grade.content import ChartContent

__all__ = ["MOST_BONUS", "PairBonus"]

PHRASE_BONUS, SECTION_BONUS, NAME_BONUS, KIND_BONUS = 8, 8, 2, 1
MOST_BONUS = PHRASE_BONUS + SECTION_BONUS + NAME_BONUS + KIND_BONUS
# What the labels of so many pairs of charts are worth is kept.
MOST_CACHED = 256


class PairBonus:
    """What pairing two bars is worth, for the labels of their sections and where phrases begin."""

    def __init__(self, reference: ChartContent, answer: ChartContent) -> None:
        labels = [
            tuple([section.name for section in chart.sections]) + chart.section_kinds
            for chart in (reference, answer)
        ]
        self._worth = _worth_of_places(*labels)
        self._ours, self._theirs = _places(reference), _places(answer)

    def table(self) -> IntArray:
        """Return what each pair is worth; shape (n, m)."""
        return self._worth.take(self._ours, 0).take(self._theirs, 1)

    def near_diagonal(self, columns: IntArray) -> IntArray:
        """Return what each bar of the reference is worth with some of the answer.

        Parameters: `columns` are those of the answer, shape (diagonals, n).
        """
        cells = self._theirs.take(columns)
        cells += self._ours * self._worth.shape[1]
        return self._worth.take(cells)

    def of(self, one: int, other: int) -> int:
        """Return what one pair is worth."""
        return self._worth.item(self._ours.item(one), self._theirs.item(other))


def _places(chart: ChartContent) -> IntArray:
    """Return for each bar its section and how much begins with it, as one number.

    It is three times the number of the section, with 1 more for the first bar of a phrase and 2
    more for that of a section.
    """
    found = [3 * section for section in chart.section_of_bar]
    for boundaries in (chart.phrase_boundaries, chart.section_boundaries):
        for bar in boundaries[:-1]:
            found[bar] += 1
    return np.array(found)


@lru_cache(maxsize=MOST_CACHED)
def _worth_of_places(ours: tuple[str, ...], theirs: tuple[str, ...]) -> IntArray:
    """Return what pairing two bars is worth by their `_places`.

    Each side has the names of its sections and then their kinds.
    """
    labels = [
        list(zip(side[: len(side) // 2], side[len(side) // 2 :], strict=True))
        for side in (ours, theirs)
    ]
    names = np.array(
        [
            [NAME_BONUS * (name == own) + KIND_BONUS * (kind == other) for own, other in labels[1]]
            for name, kind in labels[0]
        ],
        np.int64,
    )
    both, sections = PHRASE_BONUS, PHRASE_BONUS + SECTION_BONUS
    begins = np.array([[0, 0, 0], [0, both, both], [0, both, sections]])
    shape = (3 * len(labels[0]), 3 * len(labels[1]))
    worth: IntArray = names[:, None, :, None] + begins[None, :, None, :]
    return worth.reshape(shape)
