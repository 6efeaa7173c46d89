"""Find the parts of an answer that lost much, which may be read in another way."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import accumulate, pairwise

from trainer.grade.aligned import AlignedCharts
from trainer.grade.readings import ReadBar
from trainer.grade.weights import ROUNDING

__all__ = ["Region", "poor_regions"]

# A part is poor if it lost at least this share of its bars. A part in another count or from another
# 1 loses far more, and a part that is read right but has some wrong bars loses less.
LEAST_LOST = 0.3
# A part with fewer bars than this must have lost as much as a part with this many.
FEWEST_TO_LOSE = 3
# How many poor parts are tried, those that lost most first; each takes another alignment or two.
MOST_REGIONS = 8
# If every other one of at least this many bars in a row has no partner, they may be counted double
# or half. Fewer happen by chance when bars are left out.
LEAST_ALTERNATING = 4
# A part has at least this many bars, because one bar alone says nothing about its count or its 1.
FEWEST_BARS = 2


@dataclass(frozen=True, slots=True)
class Region:
    """Bars of the answer that may be read in another way, and those of the song they stand for.

    `lost` is what was lost there, in bars; `is_shifted` whether the bars are read from another 1
    already, `may_be_counted` whether they may be counted double or half: a section, or
    a stretch in which every other bar has no partner.
    """

    bars: range
    song_bars: range
    lost: float
    is_shifted: bool
    may_be_counted: bool


def poor_regions(aligned: AlignedCharts) -> list[Region]:
    """Return the parts of the answer that lost most: sections of either side, and new keys.

    A part that begins with a section or a new key of the song may go on to the end.
    """
    if aligned.swaps:
        return []
    # No part lost more than the whole.
    most = math.fsum(aligned.lost)
    if most < LEAST_LOST * FEWEST_TO_LOSE:
        return []
    pairs, reference, answer = aligned.pairs, aligned.reference, aligned.reading.answer
    # For each bar of the song, the bars of the answer before it, and the row of each of those.
    starts = [0] * len(reference) + [len(answer)]
    row_of_own = [0] * len(answer)
    before = 0
    for row, (one, other) in enumerate(pairs):
        if one:
            starts[one] = before
        if other is not None:
            row_of_own[other] = row
            before += 1
    sections = {
        *((starts[a], starts[b]) for a, b in pairwise(reference.section_boundaries)),
        *pairwise(answer.section_boundaries),
    }
    sections |= _alternating(aligned)
    regions = {
        *sections,
        *((starts[a], len(answer)) for a in reference.section_boundaries[1:-1]),
        *[(starts[k], len(answer)) for k, bar in enumerate(reference.contents) if bar.key_change],
        *[(k, len(answer)) for k, bar in enumerate(answer.contents) if bar.key_change],
    }
    read: dict[int, ReadBar] = {}
    lost_before = [0.0, *accumulate(aligned.lost)]
    found = []
    for start, end in sorted(regions - {(0, len(answer))}):
        least = LEAST_LOST * max(end - start, FEWEST_TO_LOSE)
        if end - start < FEWEST_BARS or most < least:
            continue
        bars = range(start, end)
        low, high = row_of_own[start], row_of_own[end - 1] + 1
        while low and pairs[low - 1][1] is None:
            low -= 1
        while high < len(pairs) and pairs[high][1] is None:
            high += 1
        # The sum of all rows before is nearly exact.
        if lost_before[high] - lost_before[low] < least - 2 * ROUNDING:
            continue
        lost = math.fsum(aligned.lost[low:high])
        if lost < least:
            continue
        read = read or {bar: one for one in aligned.reading.read_bars for bar in one.bars}
        song = [one for one, _ in pairs[low:high] if one is not None]
        if song and not any(len(read[bar].bars) > 1 or read[bar].half for bar in bars):
            shifted = any(read[bar].shift for bar in bars)
            one = (start, end) in sections
            found.append(Region(bars, range(min(song), max(song) + 1), lost, shifted, one))
    found.sort(key=lambda region: -region.lost)
    return found[:MOST_REGIONS]


def _alternating(aligned: AlignedCharts) -> set[tuple[int, int]]:
    """Return stretches of the answer, first bar and end, in which pairs and gaps alternate.

    The gaps are all bars too many, or all bars left out, each after the bar that it belongs to.
    """
    pairs = aligned.pairs
    found: set[tuple[int, int]] = set()
    for side in (0, 1):
        if [pair[side] for pair in pairs].count(None) < LEAST_ALTERNATING:
            continue
        run: list[int] = []
        row = 0
        while row < len(pairs):
            here = pairs[row]
            after = pairs[row + 1] if row + 1 < len(pairs) else (None, None)
            if None not in here and after[side] is None and after[1 - side] is not None:
                run += [one[1] for one in (here, after) if one[1] is not None]
                row += 2
                continue
            found |= _long_run(run, 2 if side == 0 else 1)
            run = []
            row += 1
        found |= _long_run(run, 2 if side == 0 else 1)
    return found


def _long_run(bars: list[int], bars_each: int) -> set[tuple[int, int]]:
    if len(bars) < LEAST_ALTERNATING * bars_each:
        return set()
    return {(bars[0], bars[-1] + 1)}
