"""Phrases or sections written in the other order.

Tried where an answer lost more than a swap takes away: two neighbouring phrases of a section
change places, or two sections do, or one section and the next few; and the song in that order is
aligned with the answer. A swap holds where that explains more than it costs, so the grade is the
better of the two readings.

Only likely swaps are tried: the two stretches must have lost more than a swap takes away, each must
agree by half with the answer about where it would stand, and both together by more than they do
where they are. Of those the few that promise most are aligned.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations, pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from trainer.grade.align import align, find_joins
from trainer.grade.alignment import Alignment, Pair
from trainer.grade.sheet import Sheet
from trainer.grade.weights import Weights

__all__ = ["Reading", "Swap", "best_reading"]

DRIFT = 2
LEAST_SHARE, LEAST_GAIN = 0.5, 1.0
# An answer so much shorter than the song may be one that stops early: read so, it may lose so many
# bars more for each gap that it has less.
UNFINISHED, GAP_WORTH = 0.8, 1.0
MOST_SWAPS, MOST_TRIED, MOST_SECTIONS = 4, 4, 3

Stretch = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Swap:
    """Two stretches of the reference, first and end bar from 0 each, that changed places.

    `unit` is "phrase" or "section".
    """

    unit: str
    first: Stretch
    second: Stretch


@dataclass(frozen=True, slots=True)
class Order:
    """The reference's phrases in some order: for each section its number and its phrases."""

    sections: tuple[tuple[int, tuple[Stretch, ...]], ...]

    def bars(self) -> list[int]:
        """The bars in this order."""
        return [
            bar for _, phrases in self.sections for stretch in phrases for bar in range(*stretch)
        ]

    def with_sections(self, one: range, other: range) -> Order:
        """Two runs of sections changed round, whatever stands between them."""
        was = self.sections
        first, second = was[one.start : one.stop], was[other.start : other.stop]
        between = was[one.stop : other.start]
        return Order((*was[: one.start], *second, *between, *first, *was[other.stop :]))

    def with_phrases(self, number: int, at: int) -> Order:
        """A section's phrase changed round with the next one."""
        moved = list(self.sections)
        part, inside = moved[number]
        moved[number] = part, (*inside[:at], inside[at + 1], inside[at], *inside[at + 2 :])
        return Order(tuple(moved))

    def applied(self, sheet: Sheet) -> Sheet:
        """The sheet in this order."""
        bars = self.bars()
        limits, section_limits, phrases, sections = [0], [0], [], []
        for number, (_, inside) in enumerate(self.sections):
            for start, end in inside:
                phrases += [len(limits) - 1] * (end - start)
                sections += [number] * (end - start)
                limits.append(limits[-1] + end - start)
            section_limits.append(limits[-1])
        kept = [number for number, _ in self.sections]
        return replace(
            sheet,
            bars=tuple([sheet.bars[bar] for bar in bars]),
            shapes=tuple([sheet.shapes[bar] for bar in bars]),
            shifts=tuple([sheet.shifts[bar] for bar in bars]),
            phrases=tuple(phrases),
            sections=tuple(sections),
            limits=tuple(limits),
            section_limits=tuple(section_limits),
            parts=tuple([sheet.parts[number] for number in kept]),
            kinds=tuple([sheet.kinds[number] for number in kept]),
        )


@dataclass(frozen=True, slots=True)
class Reading:
    """The reference in the order that explains the answer best, and the answer aligned with it.

    `spared` bars would be lost less by another reading, which explains it worse.
    """

    order: Order
    sheet: Sheet
    alignment: Alignment
    swaps: tuple[Swap, ...]
    spared: float = 0.0


def best_reading(
    reference: Sheet, answer: Sheet, worths: NDArray[np.float64], weights: Weights
) -> Reading:
    """Align, and try swaps one after another for as long as they explain more than they cost.

    Of a short answer the best alignment finds its bars anywhere in the song. One that was written
    straight from the start and not finished is read so, where half of it then agrees and that
    explains it nearly as well with fewer gaps. It is not graded the worse for that: otherwise a
    mistake could raise a grade.

    Parameters: `worths[i, j]` is the credit of reference bar i written as answer bar j.
    """

    def read(order: Order, sheet: Sheet, swaps: tuple[Swap, ...]) -> Reading:
        joins = find_joins(sheet.shapes, answer.shapes)
        worth = worths[order.bars()] if swaps else worths
        return Reading(order, sheet, align(sheet, answer, worth, weights.added, joins), swaps)

    best = read(_order_of(reference), reference, ())
    if len(answer) <= UNFINISHED * len(reference):
        joins = find_joins(reference.shapes, answer.shapes)
        stopped = align(reference, answer, worths, weights.added, joins, stops=True)
        spared = stopped.lost - best.alignment.lost
        fewer = _gaps(best.alignment.pairs) - _gaps(stopped.pairs)
        right = len(reference) - stopped.lost
        if fewer > 0 and spared <= GAP_WORTH * fewer and right >= LEAST_SHARE * len(answer):
            return replace(best, alignment=stopped, spared=spared)
    while len(best.swaps) < MOST_SWAPS and best.alignment.lost > weights.swapped:
        tried = [
            read(order, order.applied(reference), (*best.swaps, swap))
            for swap, order in _likely_swaps(best, worths, weights)
        ]
        better = min(tried, key=lambda reading: reading.alignment.lost, default=best)
        if better.alignment.lost + weights.swapped >= best.alignment.lost:
            break
        best = better
    return best


def _gaps(pairs: Sequence[Pair]) -> int:
    """How many runs of bars are left out."""
    left = [other is None for _, other in pairs]
    return sum(here and not before for before, here in pairwise([False, *left]))


def _order_of(sheet: Sheet) -> Order:
    """The order in which a sheet has its phrases."""
    stretches = list(pairwise(sheet.limits))
    return Order(
        tuple(
            (number, tuple([one for one in stretches if start <= one[0] < end]))
            for number, (start, end) in enumerate(pairwise(sheet.section_limits))
        )
    )


class _Place(NamedTuple):
    """Between two bars of the reference: the bars of the answer before it and what was lost there,
    without and with bars too many that stand in this place.
    """

    own: int
    own_most: int
    lost: float
    lost_most: float


@dataclass(frozen=True, slots=True)
class _Likely:
    """What is looked up to tell whether a swap is likely; bars as the order has them."""

    sheet: Sheet
    diagonals: NDArray[np.float64]
    places: Sequence[_Place]
    width: int
    least_lost: float

    def agreement(self, stretch: Stretch, at: int) -> float:
        """The most credit of a stretch laid along the answer about a place."""
        start, end = stretch
        most = 0.0
        for first in range(max(0, at - DRIFT), min(self.width - 1, at + DRIFT) + 1):
            column = start - first + self.width - 1
            if 0 <= column < self.diagonals.shape[1]:
                found = self.diagonals.item(end, column) - self.diagonals.item(start, column)
                most = max(most, found)
        return most

    def gain(self, first: Stretch, second: Stretch) -> float:
        """About how many bars more agree if two stretches changed places; 0 if that is unlikely."""
        shapes, places = self.sheet.shapes, self.places
        lost = places[first[1]].lost_most - places[first[0]].lost
        if lost + places[second[1]].lost_most - places[second[0]].lost <= self.least_lost:
            return 0.0
        if shapes[first[0] : first[1]] == shapes[second[0] : second[1]]:
            return 0.0
        long, short = first[1] - first[0], second[1] - second[0]
        low, high = places[first[0]].own, places[second[1]].own_most
        there = self.agreement(second, low)
        if there < LEAST_SHARE * short:
            return 0.0
        here = self.agreement(first, high - long)
        if here < LEAST_SHARE * long:
            return 0.0
        now = self.agreement(first, low) + self.agreement(second, high - short)
        found = there + here - now
        return found if found > LEAST_GAIN else 0.0


def _likely_swaps(
    reading: Reading, worths: NDArray[np.float64], weights: Weights
) -> list[tuple[Swap, Order]]:
    """The swaps most worth trying, with the order they give; no bar is swapped twice."""
    order, sheet = reading.order, reading.sheet
    bars = order.bars()
    worth = worths[bars] if reading.swaps else worths
    places = _places(reading.alignment.pairs, worth, weights.added)
    look = _Likely(sheet, _diagonals(worth), places, worths.shape[1], weights.swapped)
    taken = {
        bar
        for swap in reading.swaps
        for start, end in (swap.first, swap.second)
        for bar in range(start, end)
    }

    tried: list[tuple[float, Swap, Order]] = []

    def consider(unit: str, one: Stretch, other: Stretch, turned: Callable[[], Order]) -> None:
        """Note a swap, in the reference's own order, if it is likely."""
        gain = look.gain(one, other)
        if not gain:
            return
        ours, theirs = bars[slice(*one)], bars[slice(*other)]
        if not taken.intersection(ours + theirs):
            first, second = sorted((min(part), max(part) + 1) for part in (ours, theirs))
            tried.append((gain, Swap(unit, first, second), turned()))

    ends = sheet.section_limits
    for one, other in _section_runs(len(ends) - 1):
        here, there = (ends[one.start], ends[one.stop]), (ends[other.start], ends[other.stop])
        consider("section", here, there, partial(order.with_sections, one, other))
    for k, (here, there) in enumerate(pairwise(pairwise(sheet.limits))):
        number = sheet.sections[here[0]]
        if number == sheet.sections[there[0]]:
            at = k - sheet.phrases[sheet.section_limits[number]]
            consider("phrase", here, there, partial(order.with_phrases, number, at))
    tried.sort(key=lambda one: -one[0])
    return [(swap, turned) for _, swap, turned in tried[:MOST_TRIED]]


def _section_runs(number: int) -> Iterator[tuple[range, range]]:
    """Two sections near each other, or one beside a few."""
    for i, j in combinations(range(number), 2):
        if j - i < MOST_SECTIONS:
            yield range(i, i + 1), range(j, j + 1)
            if j - i > 1:
                yield range(i, i + 1), range(i + 1, j + 1)
                yield range(i, j), range(j, j + 1)


def _diagonals(worths: NDArray[np.float64]) -> NDArray[np.float64]:
    """Sums of credits down each diagonal; shape (n + 1, n + m - 1), diagonal i - j + m - 1."""
    n, m = worths.shape
    wide = np.zeros((n, n + m))
    wide[:, :m] = worths[:, ::-1]
    slanted = wide.ravel()[: n * (n + m - 1)].reshape(n, n + m - 1)
    sums = np.zeros((n + 1, n + m - 1))
    np.cumsum(slanted, axis=0, out=sums[1:])
    return sums


def _places(pairs: Sequence[Pair], worth: NDArray[np.float64], added: float) -> list[_Place]:
    """Each place between two bars of the reference, its start and end included."""
    found: list[_Place] = []
    own, lost = own_most, lost_most = 0, 0.0
    for one, other in pairs:
        if one is None:
            own_most, lost_most = own_most + 1, lost_most + added
            continue
        found.append(_Place(own, own_most, lost, lost_most))
        own = own_most = own_most + (other is not None)
        lost = lost_most = lost_most + 1.0 - (0.0 if other is None else worth.item(one, other))
    return [*found, _Place(own, own_most, lost, lost_most)]
