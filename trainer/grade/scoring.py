"""Align two charts, grade each row of the alignment, and name what was done to whole bars.

What was done to whole bars (they were left out, added, doubled, swapped, written as two bars or as
one) is named as edits of the alignment, each once; only the phrases or sections of a swap may hold
other edits. Bars count from 0 in alignments and from 1 in grades and edits.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from trainer.grade.compare import Comparison, bar_credit, compare, quality_credit
from trainer.grade.content import BarContent, ChartContent
from trainer.grade.report import AlignmentEdit, BarGrade
from trainer.grade.weights import Weights

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from trainer.grade.align import Pair
    from trainer.grade.reordering import BlockSwap

__all__ = ["AlignedCharts", "align_charts", "bars_score", "find_edits", "in_song_order"]

# From so many pairs of different bars on, arrays are faster than comparing them one by one, though
# they remember nothing from the last grade.
MANY_PAIRS = 2_500


@dataclass(frozen=True, slots=True, eq=False)
class AlignedCharts:
    """Two charts aligned: rows of equal length, in the answer's order.

    `pairs` are the bars of each row, `comparisons` their comparisons, None beside a gap, `rows`
    their grades. `reordered` is the reference in the answer's order, the reference itself unless
    something is swapped; `bar_order` holds the bars of the reference as they stand there, and
    `reordered_pairs` the pairs counted there. `two_to_one` are the rows, two by two, in which two
    bars stand for one. `spared_bars` of what the rows take away are not counted, see
    `reordering.OrderedAlignment`.
    """

    reference: ChartContent
    answer: ChartContent
    reordered: ChartContent
    bar_order: Sequence[int]
    reordered_pairs: Sequence[Pair]
    pairs: Sequence[Pair]
    comparisons: list[Comparison | None]
    rows: list[BarGrade]
    two_to_one: Sequence[tuple[int, int]]
    swaps: Sequence[BlockSwap]
    spared_bars: float = 0.0

    def lost_bars(self, row: int, weights: Weights) -> float:
        """Return what a row takes away, in bars."""
        if self.pairs[row][0] is not None:
            return 1.0 - self.rows[row].score
        half = any(row == second for _, second in self.two_to_one)
        return weights.added / 2 if half else weights.added


def align_charts(reference: ChartContent, answer: ChartContent, weights: Weights) -> AlignedCharts:
    """Align two charts and grade the rows. A bar without a partner scores 0.

    Two bars that stand for one share the loss of one bar: two bars written as one have half of
    their credit each, a split written as two loses half a bar, and half of what a bar too many
    takes away.
    """
    bars = range(len(reference))
    if reference.contents == answer.contents:
        same: list[Pair] = [(bar, bar) for bar in bars]
        return _aligned(reference, answer, reference, bars, same, [], (), weights)
    # numpy is loaded only once something is graded.
    from trainer.grade.reordering import align_in_best_order

    bar_credits = _bar_credits(reference, answer, weights)
    best = align_in_best_order(reference, answer, bar_credits, weights)
    order = best.order.bars() if best.swaps else bars
    pairs, two_to_one = best.alignment.pairs, best.alignment.two_to_one
    aligned = _aligned(
        reference, answer, best.content, order, pairs, two_to_one, best.swaps, weights
    )
    return replace(aligned, spared_bars=best.spared_bars)


def _aligned(
    reference: ChartContent,
    answer: ChartContent,
    reordered: ChartContent,
    bar_order: Sequence[int],
    reordered_pairs: Sequence[Pair],
    two_to_one: Sequence[tuple[int, int]],
    swaps: Sequence[BlockSwap],
    weights: Weights,
) -> AlignedCharts:
    """Compare the bars of each row."""
    pairs = [(None if one is None else bar_order[one], other) for one, other in reordered_pairs]
    comparisons: list[Comparison | None] = []
    rows: list[BarGrade] = []
    for one, other in pairs:
        if one is None or other is None:
            comparisons.append(None)
            rows.append(
                BarGrade(None if one is None else one + 1, None if other is None else other + 1)
            )
            continue
        c = compare(reference.contents[one], answer.contents[other], weights.plain_minor)
        comparisons.append(c)
        rows.append(
            BarGrade(
                one + 1,
                other + 1,
                bar_credit(c, weights),
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
    for first, second in two_to_one:
        half = 0.5 if pairs[second][1] is None else 1.0 - weights.added / 2
        for row in (first, second):
            if pairs[row][0] is not None:
                rows[row] = replace(rows[row], score=half)
    return AlignedCharts(
        reference,
        answer,
        reordered,
        bar_order,
        reordered_pairs,
        pairs,
        comparisons,
        rows,
        two_to_one,
        swaps,
    )


def _bar_credits(
    reference: ChartContent, answer: ChartContent, weights: Weights
) -> NDArray[np.float64]:
    """Return the credit of each reference bar written as each answer bar; shape (n, m)."""
    import numpy as np

    rows, ours = _different(reference.contents)
    columns, theirs = _different(answer.contents)
    if len(ours) * len(theirs) > MANY_PAIRS:
        from trainer.grade.align import credit_table

        table = credit_table(ours, theirs, weights)
    else:
        house = weights.plain_minor
        table = np.array(
            [[bar_credit(compare(one, other, house), weights) for other in theirs] for one in ours]
        )
    bar_credits: NDArray[np.float64] = table[np.ix_(rows, columns)]
    return bar_credits


def _different(contents: Sequence[BarContent]) -> tuple[list[int], list[BarContent]]:
    """Return each bar's number among the different bars, and those bars."""
    seen: dict[BarContent, int] = {}
    numbers = [seen.setdefault(content, len(seen)) for content in contents]
    return numbers, list(seen)


def bars_score(aligned: AlignedCharts, weights: Weights) -> float:
    """Return the credit of all bars over the reference's, 0 to 1.

    What bars too many and swaps take away is taken off.
    """
    lost = math.fsum(aligned.lost_bars(row, weights) for row in range(len(aligned.rows)))
    lost += weights.swapped * len(aligned.swaps) - aligned.spared_bars
    return max(0.0, 1.0 - lost / len(aligned.reference))


def in_song_order(rows: Sequence[BarGrade]) -> tuple[BarGrade, ...]:
    """Sort rows by bars of the reference; a bar too many stays after the bar before it."""
    last, keys = 0, []
    for row in rows:
        last = row.reference or last
        keys.append(last)
    return tuple([rows[place] for place in sorted(range(len(rows)), key=keys.__getitem__)])


def find_edits(aligned: AlignedCharts) -> tuple[AlignmentEdit, ...]:
    """Return what was done to whole bars, in the order of the song."""
    found = [_block_swap(aligned, swap) for swap in aligned.swaps]
    found += [_split_or_merged(aligned, rows) for rows in aligned.two_to_one]
    found += _swapped_bars(aligned)
    gaps = {row for row, comparison in enumerate(aligned.comparisons) if comparison is None}
    gaps -= {row for rows in aligned.two_to_one for row in rows}
    for edit, rows in _swapped_runs(aligned, gaps):
        if rows <= gaps:
            found.append(edit)
            gaps -= rows
    found += [_left_out_or_added(aligned, run) for run in _runs(aligned, gaps)]
    return tuple(sorted(found, key=lambda edit: (edit.reference or edit.answer, edit.kind)))


def _from_one(bars: Sequence[int]) -> tuple[int, ...]:
    return tuple(bar + 1 for bar in bars)


def _runs(aligned: AlignedCharts, gaps: set[int]) -> list[list[int]]:
    """Return rows next to each other with a gap on one side, whose bars are next to each other."""
    runs: list[list[int]] = []
    for row in sorted(gaps):
        before, here = aligned.pairs[row - 1], aligned.pairs[row]
        if runs and runs[-1][-1] == row - 1 and _follows(before, here):
            runs[-1].append(row)
        else:
            runs.append([row])
    return runs


def _follows(before: Pair, here: Pair) -> bool:
    if before[0] is None or here[0] is None:
        return before[0] is here[0]
    return here[0] == before[0] + 1


def _song_bars(aligned: AlignedCharts, rows: Sequence[int]) -> list[int]:
    return [bar for row in rows if (bar := aligned.pairs[row][0]) is not None]


def _answer_bars(aligned: AlignedCharts, rows: Sequence[int]) -> list[int]:
    return [bar for row in rows if (bar := aligned.pairs[row][1]) is not None]


def _unit(chart: ChartContent, bars: Sequence[int]) -> str:
    """Return whether a run of bars is whole sections, whole phrases or bars of a phrase."""
    first, end = bars[0], bars[-1] + 1
    sections, phrases = chart.section_boundaries, chart.phrase_boundaries
    if first in sections and end in sections and len(chart.sections) > 1:
        return "section"
    if first in phrases and end in phrases and len(phrases) > 2:
        return "phrase"
    return "bar"


def _left_out_or_added(aligned: AlignedCharts, run: Sequence[int]) -> AlignmentEdit:
    song, own = _song_bars(aligned, run), _answer_bars(aligned, run)
    if song:
        return AlignmentEdit("left out", _unit(aligned.reference, song), _from_one(song), ())
    answer, size = aligned.answer, len(own)
    before = answer.contents[max(0, own[0] - size) : own[0]]
    here = answer.contents[own[0] : own[-1] + 1]
    kind = "doubled" if before == here else "added"
    return AlignmentEdit(kind, _unit(answer, own), (), _from_one(own))


def _split_or_merged(aligned: AlignedCharts, rows: Sequence[int]) -> AlignmentEdit:
    song, own = _song_bars(aligned, rows), _answer_bars(aligned, rows)
    kind = "split written as two bars" if len(song) == 1 else "two bars written as one"
    return AlignmentEdit(kind, "bar", _from_one(song), _from_one(own))


def _block_swap(aligned: AlignedCharts, swap: BlockSwap) -> AlignmentEdit:
    """Name two phrases or sections in the other order, and the bars that stand for theirs."""
    song = [*range(*swap.first), *range(*swap.second)]
    own = sorted(other for one, other in aligned.pairs if one in song and other is not None)
    return AlignmentEdit("swapped", swap.unit, _from_one(song), _from_one(own))


def _swapped_bars(aligned: AlignedCharts) -> list[AlignmentEdit]:
    """Find two bars next to each other that are written in the other order, just the same."""
    found: list[AlignmentEdit] = []
    ours, theirs = aligned.reference.contents, aligned.answer.contents
    for row in range(1, len(aligned.pairs)):
        (a, x), (b, y) = aligned.pairs[row - 1], aligned.pairs[row]
        if a is None or x is None or b != a + 1 or y != x + 1:
            continue
        if aligned.rows[row - 1].score + aligned.rows[row].score == 2.0:
            continue
        crossed = ours[a] == theirs[y] and ours[b] == theirs[x] and ours[a] != ours[b]
        if crossed and (not found or found[-1].reference[-1] <= a):
            found.append(AlignmentEdit("swapped", "bar", (a + 1, b + 1), (x + 1, y + 1)))
    return found


def _swapped_runs(aligned: AlignedCharts, gaps: set[int]) -> list[tuple[AlignmentEdit, set[int]]]:
    """Find bars left out in one place and written, just the same, beyond their neighbours.

    Returns each edit with the rows of its gaps.
    """
    found = []
    for here, there in pairwise(_runs(aligned, gaps)):
        song = _song_bars(aligned, here) or _song_bars(aligned, there)
        own = _answer_bars(aligned, here) or _answer_bars(aligned, there)
        if not song or len(song) != len(own):
            continue
        if any(
            aligned.reference.contents[a] != aligned.answer.contents[b]
            for a, b in zip(song, own, strict=True)
        ):
            continue
        between = range(here[-1] + 1, there[0])
        other, own_other = _song_bars(aligned, between), _answer_bars(aligned, between)
        if not other or len(other) != len(own_other) or len(other) > 2 * len(song):
            continue
        first, second = sorted((song, other))
        edit = AlignmentEdit(
            "swapped", "bar", _from_one(first + second), _from_one(sorted(own + own_other))
        )
        found.append((edit, {*here, *there}))
    return found
