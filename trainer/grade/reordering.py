"""Find phrases or sections that were written in the other order.

This is tried if an answer lost more than a swap takes away: two neighbouring phrases of a
section change places, or two sections do, or one section and the next few; and the song in that
order is aligned with the answer. A swap holds where it explains more than it costs, so the grade is
the better of the two.

Only likely swaps are tried: the two blocks must have lost more than a swap takes away, each must
agree for the most part with the answer about where it would stand, and both together by more than
they do where they are. Of those the few that promise most are aligned.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from trainer.grade.align import Alignment, align, diagonal_sums, find_steps
from trainer.grade.align_table import Pair
from trainer.grade.content import ChartContent
from trainer.grade.weights import Weights

__all__ = ["BlockSwap", "OrderedAlignment", "align_in_best_order", "swap_cost"]

# How many bars away from where a block is expected it is looked for.
DRIFT = 2
# What share of a block must agree where it would stand, and how many bars more than where it is.
LEAST_SHARE, LEAST_GAIN = 0.7, 1.0
MOST_SWAPS, MOST_TRIED, MOST_SECTIONS = 4, 4, 3
# Of how many numbers of sections the runs are kept.
MOST_CACHED = 64
# In charts so long that a table has more cells, one swap is looked for.
MOST_CELLS = 1_000_000

# First bar and end bar (the bar after the last), from 0.
BarRange = tuple[int, int]


@dataclass(frozen=True, slots=True)
class BlockSwap:
    """Two blocks of the reference's bars that changed places. `unit` is "phrase" or "section"."""

    unit: str
    first: BarRange
    second: BarRange


def swap_cost(swap: BlockSwap, weights: Weights) -> float:
    """Return what a swap takes away, in bars."""
    bars = swap.first[1] - swap.first[0] + swap.second[1] - swap.second[0]
    return weights.swap_of(bars)


@dataclass(frozen=True, slots=True)
class PhraseOrder:
    """The reference's phrases in some order: for each section its number and its phrases."""

    sections: tuple[tuple[int, tuple[BarRange, ...]], ...]

    def bars(self) -> list[int]:
        """Return the bars in this order."""
        return [bar for _, phrases in self.sections for phrase in phrases for bar in range(*phrase)]

    def with_sections_swapped(self, one: range, other: range) -> PhraseOrder:
        """Return the order with two runs of sections swapped; what is between them stays there."""
        was = self.sections
        first, second = was[one.start : one.stop], was[other.start : other.stop]
        between = was[one.stop : other.start]
        return PhraseOrder((*was[: one.start], *second, *between, *first, *was[other.stop :]))

    def with_phrases_swapped(self, number: int, at: int) -> PhraseOrder:
        """Return the order with a phrase of a section, the one at `at`, and the next swapped."""
        sections = list(self.sections)
        section, inside = sections[number]
        sections[number] = section, (*inside[:at], inside[at + 1], inside[at], *inside[at + 2 :])
        return PhraseOrder(tuple(sections))

    def applied(self, chart: ChartContent) -> ChartContent:
        """Return the chart's content in this order."""
        bars = self.bars()
        phrase_boundaries, section_boundaries = [0], [0]
        phrase_of_bar: list[int] = []
        section_of_bar: list[int] = []
        for number, (_, inside) in enumerate(self.sections):
            for start, end in inside:
                phrase_of_bar += [len(phrase_boundaries) - 1] * (end - start)
                section_of_bar += [number] * (end - start)
                phrase_boundaries.append(phrase_boundaries[-1] + end - start)
            section_boundaries.append(phrase_boundaries[-1])
        numbers = [number for number, _ in self.sections]
        return ChartContent(
            tuple([chart.bars[bar] for bar in bars]),
            tuple([chart.contents[bar] for bar in bars]),
            tuple(phrase_of_bar),
            tuple(section_of_bar),
            tuple([chart.key_shifts[bar] for bar in bars]),
            tuple(phrase_boundaries),
            tuple(section_boundaries),
            tuple([chart.sections[number] for number in numbers]),
            tuple([chart.section_kinds[number] for number in numbers]),
        )


@dataclass(frozen=True, slots=True)
class OrderedAlignment:
    """The reference in the order that explains the answer best, and the answer aligned with it.

    `content` is the reference in that order.
    """

    order: PhraseOrder
    content: ChartContent
    alignment: Alignment
    swaps: tuple[BlockSwap, ...]


def align_in_best_order(
    reference: ChartContent,
    answer: ChartContent,
    bar_credits: NDArray[np.float64],
    weights: Weights,
    favour: NDArray[np.float64] | None = None,
    *,
    unfinished: bool = False,
) -> OrderedAlignment:
    """Align, and try swaps one after another for as long as they explain more than they cost.

    Parameters: `bar_credits[i, j]`, shape (n, m), is the credit, 0 to 1, of reference bar i written
    as answer bar j; `favour` of the same shape is what the pair is preferred by, in bars. No
    swaps are tried with it, nor in an answer that is read as `unfinished`.
    """

    def aligned(
        order: PhraseOrder, content: ChartContent, swaps: tuple[BlockSwap, ...]
    ) -> OrderedAlignment:
        worth, wanted = bar_credits, favour
        if swaps:
            bars = order.bars()
            worth, wanted = bar_credits[bars], None if favour is None else favour[bars]
        steps = find_steps(content, answer, weights)
        alignment = align(content, answer, worth, weights, steps, wanted, unfinished=unfinished)
        return OrderedAlignment(order, content, alignment, swaps)

    best = aligned(_written_order(reference), reference, ())
    if unfinished or favour is not None:
        return best
    most = MOST_SWAPS if len(reference) * len(answer) <= MOST_CELLS else 1
    while len(best.swaps) < most and best.alignment.lost > weights.swapped:
        tried = [
            aligned(order, order.applied(reference), (*best.swaps, swap))
            for swap, order in _likely_swaps(best, bar_credits, weights)
        ]
        better = min(tried, key=lambda one: one.alignment.lost, default=best)
        if better is best:
            break
        cost = swap_cost(better.swaps[-1], weights)
        if better.alignment.lost + cost >= best.alignment.lost:
            break
        best = better
    return best


def _written_order(chart: ChartContent) -> PhraseOrder:
    """Return the order in which a chart has its phrases."""
    phrases = list(pairwise(chart.phrase_boundaries))
    return PhraseOrder(
        tuple(
            (number, tuple([phrase for phrase in phrases if start <= phrase[0] < end]))
            for number, (start, end) in enumerate(pairwise(chart.section_boundaries))
        )
    )


class _BarLines(NamedTuple):
    """The bar lines of the reference, its start and end included.

    For each, `answer_bars` are the bars of the answer before it, `lost` the bars lost up to there.
    `most_` is the same with the bars too many that stand there.
    """

    answer_bars: list[int]
    most_answer_bars: list[int]
    lost: list[float]
    most_lost: list[float]

    def lost_in(self, first: BarRange, second: BarRange) -> float:
        """Return how many bars are lost in two blocks."""
        lost = self.most_lost[first[1]] - self.lost[first[0]]
        return lost + self.most_lost[second[1]] - self.lost[second[0]]


class _Neighbours(NamedTuple):
    """Two blocks of an order near each other, and what gives the order with them swapped."""

    unit: str
    first: BarRange
    second: BarRange
    swapped: Callable[[], PhraseOrder]


class _SwapEstimate:
    """What is looked up to tell whether a swap is likely; bars are counted in the tried order."""

    def __init__(
        self,
        content: ChartContent,
        bar_credits: NDArray[np.float64],
        bar_lines: _BarLines,
        blocks: Sequence[_Neighbours],
    ) -> None:
        self.contents, self.bar_lines = content.contents, bar_lines
        self.last = bar_credits.shape[1] - 1
        self.places = [self._places(block.first, block.second) for block in blocks]
        away = [abs(start - at) for here in self.places for (start, _), at in here]
        self.reach = max(away) + DRIFT
        self.sum_at = diagonal_sums(bar_credits, self.reach).item

    def _places(self, first: BarRange, second: BarRange) -> list[tuple[BarRange, int]]:
        """Return each block with the bar of the answer that it begins at if both are swapped, and
        then each with the one that it begins at as it stands.
        """
        low = self.bar_lines.answer_bars[first[0]]
        high = self.bar_lines.most_answer_bars[second[1]]
        long, short = first[1] - first[0], second[1] - second[0]
        return [(second, low), (first, high - long), (first, low), (second, high - short)]

    def agreement(self, block: BarRange, at: int) -> float:
        """Return the most credit of a block laid along the answer near a bar of it."""
        start, end = block
        sum_at, most = self.sum_at, 0.0
        for first in range(max(0, at - DRIFT), min(self.last, at + DRIFT) + 1):
            column = start - first + self.reach
            most = max(most, sum_at(end, column) - sum_at(start, column))
        return most

    def gain(self, number: int) -> float:
        """Return about how many bars more agree with the two blocks of a number swapped.

        Returns 0 if that is unlikely.
        """
        to_start, to_end, at_start, at_end = self.places[number]
        first, second = to_end[0], to_start[0]
        if self.contents[first[0] : first[1]] == self.contents[second[0] : second[1]]:
            return 0.0
        there = self.agreement(*to_start)
        if there < LEAST_SHARE * (second[1] - second[0]):
            return 0.0
        here = self.agreement(*to_end)
        if here < LEAST_SHARE * (first[1] - first[0]):
            return 0.0
        now = self.agreement(*at_start) + self.agreement(*at_end)
        found = there + here - now
        return found if found > LEAST_GAIN else 0.0


def _likely_swaps(
    tried: OrderedAlignment, bar_credits: NDArray[np.float64], weights: Weights
) -> list[tuple[BlockSwap, PhraseOrder]]:
    """Return the swaps most worth trying, with the order they give; no bar is swapped twice."""
    order, content = tried.order, tried.content
    bars = order.bars()
    worth = bar_credits[bars] if tried.swaps else bar_credits
    bar_lines = _bar_lines(tried.alignment.pairs, worth, weights.added)
    blocks = list(_neighbours(order, content, bar_lines, weights.swapped))
    if not blocks:
        return []
    estimate = _SwapEstimate(content, worth, bar_lines, blocks)
    taken = {
        bar
        for swap in tried.swaps
        for start, end in (swap.first, swap.second)
        for bar in range(start, end)
    }

    likely: list[tuple[float, BlockSwap, PhraseOrder]] = []
    for number, block in enumerate(blocks):
        gain = estimate.gain(number)
        if not gain:
            continue
        ours, theirs = bars[slice(*block.first)], bars[slice(*block.second)]
        if not taken.intersection(ours + theirs):
            # The swap is named by the bars of the reference's own order.
            first, second = sorted((min(each), max(each) + 1) for each in (ours, theirs))
            likely.append((gain, BlockSwap(block.unit, first, second), block.swapped()))
    likely.sort(key=lambda one: -one[0])
    return [(swap, swapped) for _, swap, swapped in likely[:MOST_TRIED]]


def _neighbours(
    order: PhraseOrder, content: ChartContent, bar_lines: _BarLines, least_lost: float
) -> Iterator[_Neighbours]:
    """Give the sections, and the phrases of a section, that lost more than a swap takes away."""
    ends = content.section_boundaries
    lost_in = bar_lines.lost_in
    for one, other in _section_runs(len(ends) - 1):
        here, there = (ends[one.start], ends[one.stop]), (ends[other.start], ends[other.stop])
        if lost_in(here, there) > least_lost:
            swapped = partial(order.with_sections_swapped, one, other)
            yield _Neighbours("section", here, there, swapped)
    section_of = content.section_of_bar
    for k, (here, there) in enumerate(pairwise(pairwise(content.phrase_boundaries))):
        number = section_of[here[0]]
        if number == section_of[there[0]] and lost_in(here, there) > least_lost:
            at = k - content.phrase_of_bar[content.section_boundaries[number]]
            swapped = partial(order.with_phrases_swapped, number, at)
            yield _Neighbours("phrase", here, there, swapped)


@lru_cache(maxsize=MOST_CACHED)
def _section_runs(number: int) -> tuple[tuple[range, range], ...]:
    """Return two sections near each other, or one beside a few, of so many in all."""
    found = []
    for i in range(number):
        for j in range(i + 1, min(number, i + MOST_SECTIONS)):
            found.append((range(i, i + 1), range(j, j + 1)))
            if j - i > 1:
                found.append((range(i, i + 1), range(i + 1, j + 1)))
                found.append((range(i, j), range(j, j + 1)))
    return tuple(found)


def _bar_lines(pairs: Sequence[Pair], bar_credits: NDArray[np.float64], added: float) -> _BarLines:
    """Return the bar lines of the reference, its start and end included."""
    credit_of = bar_credits.item
    found = _BarLines([], [], [], [])
    answer_bars, most_answer_bars, losses, most_losses = found
    bars, lost = most_bars, most_lost = 0, 0.0
    for one, other in pairs:
        if one is None:
            most_bars, most_lost = most_bars + 1, most_lost + added
            continue
        answer_bars.append(bars)
        most_answer_bars.append(most_bars)
        losses.append(lost)
        most_losses.append(most_lost)
        bars = most_bars = most_bars + (other is not None)
        credit = 0.0 if other is None else credit_of(one, other)
        lost = most_lost = most_lost + 1.0 - credit
    answer_bars.append(bars)
    most_answer_bars.append(most_bars)
    losses.append(lost)
    most_losses.append(most_lost)
    return found
