"""Decide whether another reading of an answer is believed, by what it explains of the song.

A reading from another 1 is believed where the roots it explains are many (four bars with three
roots, or six with two) and nearly all of those compared; a chart on one chord says nothing about
the tonic, and a chart that is merely wrong does not become right by moving it. A reading in another
count is believed where most of its bars have the right root.
"""

from __future__ import annotations

import math

from trainer.grade.aligned import AlignedCharts
from trainer.grade.compare import bar_credit
from trainer.grade.weights import Weights

__all__ = [
    "SHARE_EXPLAINED",
    "explained_bars",
    "is_believed_count",
    "is_believed_shift",
    "mean_agreement",
]

# Of the bars compared, the share whose roots a reading from another 1 must explain: a phrase of
# four bars may have one wrong and is still believed.
SHARE_EXPLAINED = 0.75
# The same for a reading in another count: a little less, since the first and the last bars of a
# part that is counted double or half may have lost their other half.
SHARE_COUNTED = 0.7
# How many bars a reading from another 1 must explain, with three roots or more among them; and with
# two. Two roots fit two tonics as often as not, and one root fits any.
FEWEST_BARS, FEWEST_BARS_OF_TWO_ROOTS, FEWEST_ROOTS = 4, 6, 2
# A bar in another count holds two chords of the song or of the answer: one of them must be right.
RIGHT_HALF = 0.5
# One bar alone has no count: so many must be compared, and so many be read in another count.
FEWEST_COUNTED = 2


def explained_bars(aligned: AlignedCharts) -> set[int]:
    """Return the bars of the answer whose roots agree throughout and that begin with a chord."""
    return {
        other
        for (one, other), c in zip(aligned.pairs, aligned.comparisons, strict=True)
        if c is not None
        and c.chords_in_order.root == 1.0
        and one is not None
        and other is not None
        and aligned.reference.contents[one].sonorities[0].root >= 0
    }


def mean_agreement(aligned: AlignedCharts, bars: range, weights: Weights) -> float:
    """Return the mean credit of some bars of the answer, as they were meant."""
    agreed = [
        0.0 if c is None else bar_credit(c, weights)
        for source, c in zip(aligned.sources, aligned.comparisons, strict=True)
        if source is not None and source in bars
    ]
    return math.fsum(agreed) / max(1, len(agreed))


def is_believed_shift(reading: AlignedCharts, bars: range) -> bool:
    """Return whether a reading of some bars from another 1 explains enough."""
    explained = explained_bars(reading)
    compared = [
        (one, other)
        for (one, other), c in zip(reading.pairs, reading.comparisons, strict=True)
        if c is not None and one is not None and other in bars
    ]
    rows = [(one, other) for one, other in compared if other in explained]
    roots = {
        sonority.root for one, _ in rows for sonority in reading.reference.contents[one].sonorities
    }
    return (
        len(roots) >= FEWEST_ROOTS
        and len(rows) >= (FEWEST_BARS if len(roots) > FEWEST_ROOTS else FEWEST_BARS_OF_TWO_ROOTS)
        and len(rows) >= SHARE_EXPLAINED * len(compared)
    )


def is_believed_count(reading: AlignedCharts, bars: range) -> bool:
    """Return whether a reading of some bars in another count explains enough.

    Two bars read as one, alone among bars that stay as they are, are one bar too many. Bars that
    are read as one and then stand for two bars of the song were written as the song has them.
    """
    counted = {
        one.bars[0] for one in reading.reading.read_bars if one.is_counted and one.bars[0] in bars
    }
    joined = {one.bars[0] for one in reading.reading.read_bars if len(one.bars) > 1}
    taken_apart = {
        row for rows in reading.two_to_one for row in rows if reading.sources[row] in joined
    }
    compared = [
        row not in taken_apart and c.chords_in_order.root >= RIGHT_HALF
        for row, ((_, other), c) in enumerate(zip(reading.pairs, reading.comparisons, strict=True))
        if c is not None and (other is None or other in bars)
    ]
    enough = min(len(compared), len(counted)) >= FEWEST_COUNTED
    return enough and sum(compared) >= SHARE_COUNTED * len(compared)
