"""Find what was taken for one and the same other thing in several bars, and what that is spared.

One slip made throughout is one thing to learn: the same chord written for the same chord, of those
that are easily confused, takes away `Weights.slip` times what it does once, however often it is
made. An articulation that is missing, or made up, throughout is one habit as well, though each is
heard by itself: it takes away `ARTICULATIONS` times as much.
Only the slip that lost most by it is spared: who takes every chord for another has not made one.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

from trainer.grade.compare import (
    Comparison,
    chord_credit,
    compare,
    differing_segments,
    segment_credit,
)
from trainer.grade.content import BarContent, ChartContent, Sonority, is_usually_minor
from trainer.grade.report import RepeatedSlip
from trainer.grade.weights import Weights

if TYPE_CHECKING:
    from trainer.grade.align_table import Pair

__all__ = ["are_easily_confused", "find_slips", "total_weight"]

# How many times as much as one chord an articulation that is wrong throughout may take away: each
# of them is heard by itself, and a song has few of them.
ARTICULATIONS = 3.0
EXCHANGED = "4 and 5"
# Slips are kept for at most this many sets of weights, and this many pairs of bars for each.
MOST_WEIGHTS, MOST_PAIRS = 4, 1 << 14


class _SlipInBar(NamedTuple):
    """A slip in a bar, counted from 1: what it lost, in bars, and what stands on either side."""

    bar: int
    lost: float
    played: str
    written: str


def find_slips(
    reference: ChartContent,
    pairs: Sequence[Pair],
    comparisons: Sequence[Comparison | None],
    written: Sequence[BarContent | None],
    lost: Sequence[float],
    keeps: Sequence[float],
    passed_over: Collection[int],
    weights: Weights,
) -> tuple[RepeatedSlip, ...]:
    """Return the slips that were made more than once.

    Parameters, one entry a row of the alignment: `pairs`, `comparisons`, `written`, what each row
    has `lost` in bars and which share of its credit it keeps; `passed_over` are rows not to look
    at.
    """
    chords: defaultdict[tuple[object, ...], list[_SlipInBar]] = defaultdict(list)
    articulations: defaultdict[tuple[object, ...], list[_SlipInBar]] = defaultdict(list)
    chord_slips = _known_chord_slips(weights)
    for row, c in enumerate(comparisons):
        if c is None or not lost[row] or row in passed_over:
            continue
        own, one = written[row], pairs[row][0]
        if own is None or one is None:
            continue
        played = reference.contents[one]
        if c.same_chord < 1.0:
            found = chord_slips(played, own)
            share = found.chord_loss * (found.chord_weight * keeps[row])
            for key, loss, names in found.slips:
                here = min(share * loss / found.whole, lost[row])
                chords[key].append(_SlipInBar(one + 1, here, *names))
        if c.articulation < 1.0:
            share = weights.articulation * (1.0 - c.articulation) / total_weight(c, weights)
            here = min(share * keeps[row], lost[row])
            ours, theirs = (_kinds(content) for content in (played, own))
            if here > 0 and ours != theirs and (not ours or not theirs):
                made = _SlipInBar(one + 1, here, " ".join(ours), " ".join(theirs))
                articulations[ours, theirs].append(made)
    repeated = [bars for bars in chords.values() if len(bars) > 1]
    exchanges = [bars for bars in repeated if _is_exchange(bars)]
    slips = [
        *_capped([bars for bars in repeated if bars not in exchanges], weights.slip),
        # Each of the two chords may be taken for the other once and a half.
        *_capped(exchanges, weights.slip * 2),
        *_capped(
            [bars for bars in articulations.values() if len(bars) > 1],
            weights.slip * ARTICULATIONS,
        ),
    ]
    most = max(slips, key=lambda slip: slip.spared, default=None)
    return tuple(slip if slip is most else replace(slip, spared=0.0) for slip in slips)


class _ChordSlips(NamedTuple):
    """The chords of a bar that are easily taken for those written for them.

    `chord_loss` is what share of the chords' credit is lost, `chord_weight` what they weigh of the
    bar, `whole` the sum of what all chords that differ lost. Each of `slips` is the key of the
    slip, what it lost of `whole`, and the names of the chords, played and written.
    """

    chord_loss: float
    chord_weight: float
    whole: float
    slips: list[tuple[tuple[object, ...], float, tuple[str, str]]]


@lru_cache(maxsize=MOST_WEIGHTS)
def _known_chord_slips(weights: Weights) -> Callable[[BarContent, BarContent], _ChordSlips]:
    """Return what finds the slips of chords in a bar, by some weights, and keeps them."""

    @lru_cache(maxsize=MOST_PAIRS)
    def chord_slips(played: BarContent, own: BarContent) -> _ChordSlips:
        c = compare(played, own, weights.plain_minor)
        share = min(1.0, 1.0 - chord_credit(c.chords(weights), weights) / weights.chord)
        segments = differing_segments(played, own, weights)
        losses = [
            part.share * (1.0 - segment_credit(part.played, part.written, weights))
            for part in segments
        ]
        whole = math.fsum(losses)
        slips = [
            (_slip_key(part.played, part.written), loss, (part.played.name, part.written.name))
            for part, loss in zip(segments, losses, strict=True)
            if whole > 0 and are_easily_confused(part.played, part.written)
        ]
        return _ChordSlips(share, weights.chord / total_weight(c, weights), whole, slips)

    return chord_slips


def _capped(groups: Collection[Sequence[_SlipInBar]], most: float) -> tuple[RepeatedSlip, ...]:
    """Return the slips made more than once, of which the most counts `most` times what it lost."""
    return tuple(
        RepeatedSlip(
            bars[0].played,
            bars[0].written,
            tuple(one.bar for one in bars),
            lost := math.fsum(one.lost for one in bars),
            max(0.0, lost - most * max(one.lost for one in bars)),
        )
        for bars in groups
    )


def _is_exchange(bars: Sequence[_SlipInBar]) -> bool:
    """Whether two chords were written for each other."""
    played, written = ({one[side] for one in bars} for side in (2, 3))
    return len(played) > 1 and played == written


def _kinds(bar: BarContent) -> tuple[str, ...]:
    """Return the kinds of articulation in a bar."""
    return tuple(kind.value for _, kind in bar.articulations)


def total_weight(c: Comparison, w: Weights) -> float:
    """Return what the parts that count in a bar weigh together."""
    return (
        w.chord
        + w.placement * c.counts_placement
        + w.articulation * c.counts_articulation
        + w.meter * (1 - c.meter)
        + w.key_change * c.counts_key_change
    )


def are_easily_confused(played: Sonority, written: Sonority) -> bool:
    """Whether two chords are easily taken for each other.

    They have one root or one bass, share half of their notes, have one number but for its flat or
    sharp, or are the 4 and the 5 of one key (two major chords a whole step apart).
    """
    one, other = played.chord, written.chord
    if one is None or other is None:
        return False
    return (
        played.root == written.root
        or played.bass == written.bass
        or played.is_related_to(written)
        or (one.degree == other.degree and one.quality == other.quality)
        or ({played.root, written.root} == {5, 7} and not one.quality and not other.quality)
    )


def _slip_key(played: Sonority, written: Sonority) -> tuple[object, ...]:
    """Put the same chords together, and what is one habit.

    Habits are minor chords as plain numbers, one kind of seventh or the like left out, and 4 and 5
    exchanged.
    """
    one, other = played.chord, written.chord
    if (
        one is not None
        and other is not None
        and played.root == written.root
        and one.quality == "-"
        and not other.quality
        and one.extension == other.extension
        and one.bass == other.bass
        and is_usually_minor(other)
    ):
        return ("plain number",)
    if one is not None and one.extension and replace(one, extension="") == other:
        return ("extension left out", one.quality, one.extension)
    if {played.root, written.root} == {5, 7} and one is not None and other is not None:
        return (EXCHANGED, one.quality, other.quality, one.extension, other.extension)
    return played.root, played.tones, played.bass, written.root, written.tones, written.bass
