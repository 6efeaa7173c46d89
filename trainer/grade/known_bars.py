"""Keep what is worked out of pairs of bars, since the same bars come in many charts.

It saves time and changes no result.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from trainer.grade.compare import (
    ChordSegment,
    Comparison,
    bar_credit,
    compare,
    differing_segments,
    quality_credit,
    segment_credit,
)
from trainer.grade.content import BarContent
from trainer.grade.weights import Weights

__all__ = ["KnownBars", "known_bars", "row_scores"]

# Pairs of bars are kept for at most this many sets of weights, and this many pairs for each.
MOST_WEIGHTS, MOST_PAIRS = 4, 1 << 14


def row_scores(c: Comparison, weights: Weights) -> tuple[float, ...]:
    """Return the scores of a pair of bars as written, in the order of the fields of `BarGrade`."""
    chords = c.chords(weights)
    return (
        bar_credit(c, weights),
        chords.root,
        quality_credit(chords, weights),
        chords.bass,
        c.placement,
        c.articulation,
        c.meter,
        c.key_change,
        c.over_time.strict,
    )


class KnownBars:
    """Pairs of bars with their comparison and their scores by some weights."""

    def __init__(self, weights: Weights) -> None:
        self.weights = weights
        self._known: dict[BarContent, dict[BarContent, tuple[Comparison, tuple[float, ...]]]] = {}
        self._number = 0
        self._differing: dict[
            tuple[BarContent, BarContent], tuple[tuple[ChordSegment, float], ...]
        ] = {}

    def differing(
        self, one: BarContent, other: BarContent
    ) -> tuple[tuple[ChordSegment, float], ...]:
        """Return the segments in which the chords differ, and what each loses, in bars."""
        found = self._differing.get((one, other))
        if found is None:
            if len(self._differing) >= MOST_PAIRS:
                self._differing.clear()
            found = self._differing[one, other] = tuple(
                (each, each.share * (1.0 - segment_credit(each.played, each.written, self.weights)))
                for each in differing_segments(one, other, self.weights)
            )
        return found

    def compared_each(
        self, pairs: Iterable[tuple[BarContent, BarContent]]
    ) -> list[tuple[Comparison, tuple[float, ...]]]:
        """Return what `compared` does for each pair of bars."""
        found, known = [], self._known
        for one, other in pairs:
            try:
                found.append(known[one][other])
            except KeyError:
                found.append(self._compared_anew(one, other))
        return found

    def compared(self, one: BarContent, other: BarContent) -> tuple[Comparison, tuple[float, ...]]:
        """Return how the answer's bar `other` compares with the reference's `one`, and scores."""
        try:
            return self._known[one][other]
        except KeyError:
            return self._compared_anew(one, other)

    def _compared_anew(
        self, one: BarContent, other: BarContent
    ) -> tuple[Comparison, tuple[float, ...]]:
        if self._number >= MOST_PAIRS:
            self._known.clear()
            self._number = 0
        c = compare(one, other, self.weights.plain_minor)
        found = self._known.setdefault(one, {})[other] = c, row_scores(c, self.weights)
        self._number += 1
        return found


@lru_cache(maxsize=MOST_WEIGHTS)
def known_bars(weights: Weights) -> KnownBars:
    """Return the pairs of bars that are known by some weights."""
    return KnownBars(weights)
