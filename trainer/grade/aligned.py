"""Two charts aligned row by row, and what was lost in all.

Bars count from 0 in alignments and from 1 in grades.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.grade.compare import Comparison
from trainer.grade.content import BarContent, ChartContent
from trainer.grade.readings import Reading
from trainer.grade.report import BarGrade, RepeatedSlip
from trainer.grade.weights import ROUNDING, Weights

if TYPE_CHECKING:
    from trainer.grade.align_table import Pair
    from trainer.grade.reordering import BlockSwap

__all__ = ["AlignedCharts", "bars_score", "in_song_order", "lost_bars", "starts_of_moved_blocks"]


@dataclass(frozen=True, slots=True, eq=False)
class AlignedCharts:
    """A song and an answer aligned: rows of equal length, in the answer's order.

    `pairs` are the bars of each row, those of the answer as it is written; `comparisons` their
    comparisons, None beside a gap; `written` what was compared of the answer, as it is read, and
    `sources` the bar of the answer that it comes from, the first of two; `rows` their grades;
    `lost` what each row takes away, in bars; `keeps` the share of its credit that is kept. `answer`
    is the content of the answer as it is written, or with its numbers moved where it is counted
    from another 1.

    `reordered` is the reference in the answer's order, the reference itself unless something is
    swapped; `bar_order` holds the bars of the reference as they stand there, and `reordered_pairs`
    the pairs counted there, with the bars of the reading. `two_to_one` are the rows, two by two, in
    which two bars stand for one, `repeated` runs of rows with a phrase or section written again.
    `surcharge` is what is lost besides the rows, `slips` the chords that were taken for another
    more than once; what they are spared is not lost.
    """

    reference: ChartContent
    answer: ChartContent
    reading: Reading
    reordered: ChartContent
    bar_order: Sequence[int]
    reordered_pairs: Sequence[Pair]
    pairs: Sequence[Pair]
    comparisons: list[Comparison | None]
    written: list[BarContent | None]
    sources: list[int | None]
    rows: list[BarGrade]
    lost: list[float]
    keeps: list[float]
    two_to_one: Sequence[tuple[int, int]]
    repeated: Sequence[range]
    counted: Sequence[tuple[int, ...]]
    swaps: Sequence[BlockSwap]
    surcharge: float = 0.0
    slips: Sequence[RepeatedSlip] = ()
    keys_off: Sequence[int] = ()

    def repeated_bars(self) -> set[int]:
        """Return the bars of the answer that were written again, from 0."""
        return {
            other
            for rows in self.repeated
            for row in rows
            if (other := self.pairs[row][1]) is not None
        }

    def shifts(self) -> list[int | None]:
        """Return by how many semitones each row's bar was moved up, None beside a gap."""
        shift_of = {bar: one.shift for one in self.reading.read_bars for bar in one.bars}
        return [
            None if one is None or other is None else shift_of[other] for one, other in self.pairs
        ]

    @property
    def spared_bars(self) -> float:
        """How much of what the rows lost is not counted, in bars."""
        return math.fsum(slip.spared for slip in self.slips)


def starts_of_moved_blocks(pairs: Sequence[Pair]) -> set[int]:
    """Return the rows in which the song does not go on with its next bar, because of a swap."""
    found, following = set(), 0
    for row, (one, _) in enumerate(pairs):
        if one is not None:
            if one != following:
                found.add(row)
            following = one + 1
    return found


def bars_score(aligned: AlignedCharts, weights: Weights) -> float:
    """Return the credit of all bars over the reference's, 0 to 1.

    What bars too many and swaps take away is taken off.
    """
    return max(0.0, 1.0 - lost_bars(aligned, weights) / len(aligned.reference))


def lost_bars(aligned: AlignedCharts, weights: Weights) -> float:
    """Return what the answer lost in all, in bars."""
    lost = math.fsum(aligned.lost) + aligned.surcharge - aligned.spared_bars
    if aligned.swaps:
        from trainer.grade.reordering import swap_cost

        lost += sum(swap_cost(swap, weights) for swap in aligned.swaps)
    return 0.0 if lost < ROUNDING else lost


def in_song_order(rows: Sequence[BarGrade]) -> tuple[BarGrade, ...]:
    """Sort rows by bars of the reference; a bar too many stays after the bar before it."""
    last, keys = 0, []
    for row in rows:
        last = row.reference or last
        keys.append(last)
    if keys == sorted(keys):
        return tuple(rows)
    return tuple([rows[row] for row in sorted(range(len(rows)), key=keys.__getitem__)])
