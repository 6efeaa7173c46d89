"""Align doubtful charts again, with what is known of the page as anchors.

This alignment prefers to pair chords that are easily confused, and the first bars of sections of
one kind. A short answer is also read as one that was written straight from the start of the song
and stops early. The new alignment is taken if it loses no more than the one before, or only as much
more as what it explains is worth. That much is not charged, for otherwise a mistake could raise a
grade.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from trainer.grade.aligned import AlignedCharts, lost_bars
from trainer.grade.content import ChartContent
from trainer.grade.scoring import align_reading, different_bars
from trainer.grade.slips import are_easily_confused
from trainer.grade.weights import ROUNDING, Weights
from trainer.grade.whole_chart import Timing

__all__ = ["best_anchored", "is_doubtful", "written_too_early"]

# An alignment that lost fewer bars is taken as it is: there is little left to explain.
LEAST_LOST_TO_ANCHOR = 2.0
# How many bars more an alignment may lose for each section that it brings beside one of its kind.
SECTION_WORTH = 0.5
# An alignment with bars missing or too many is doubtful if it lost more than this share of the
# other bars.
MOST_WRONG = 0.2
# An answer that is no longer than this share of the song may be one that stops early.
UNFINISHED = 0.8
# If it is read as one that stops early, it may lose this many more bars for each gap it saves.
GAP_WORTH = 1.0
# How many bars cheaper it is to pair bars whose chords are easily confused, and to pair the first
# bars of sections of one kind.
CONFUSED, ANCHORED = 0.4, 0.5
# How many bars dearer it is to pair a bar of the song with one that was written before it sounded,
# and how many bars more an alignment may lose for each such pair that it has less.
TOO_EARLY = 1.0


# For each pair of bars of the two charts, whether the second was written before the first sounded.
Impossible = NDArray[np.bool_]


def written_too_early(timing: Timing) -> Impossible | None:
    """Return which bars of the answer were finished before a bar of the song began; (n, m).

    Parameters: `timing` is of one listen without a pause, so that both are on one clock; otherwise
    they do not tell, and None is returned. A writer may be a bar ahead of the sound.
    """
    if timing.listens != 1 or timing.paused or None in timing.bar_done_s:
        return None
    starts = np.array([start for start, _ in timing.bar_times_s])
    lengths = np.array([end - start for start, end in timing.bar_times_s])
    done = np.array(timing.bar_done_s, np.float64)
    early: Impossible = (starts - lengths)[:, None] > done[None, :]
    return early


def _pairs_too_early(aligned: AlignedCharts, early: Impossible | None) -> int:
    """Return how many bars are paired with one that had not sounded when they were written."""
    if early is None:
        return 0
    return sum(
        bool(early[one, other])
        for one, other in aligned.pairs
        if one is not None and other is not None
    )


def is_doubtful(aligned: AlignedCharts, weights: Weights, early: Impossible | None = None) -> bool:
    """Whether another alignment might explain more.

    So it is where blocks are swapped, where bars are left out in one place and too many in another,
    where bars are left out or too many and many others disagree, and where a bar stands beside one
    that had not sounded yet (`early`) when it was written.
    """
    if _pairs_too_early(aligned, early):
        return True
    if lost_bars(aligned, weights) < LEAST_LOST_TO_ANCHOR:
        return False
    missing = [other for _, other in aligned.reordered_pairs].count(None)
    extra = [one for one, _ in aligned.reordered_pairs].count(None)
    if aligned.swaps or (missing and extra):
        return True
    if not missing and not extra:
        return False
    if missing > (1.0 - UNFINISHED) * len(aligned.reference):
        return True
    compared = len(aligned.reordered_pairs) - missing - extra
    wrong = math.fsum(
        [lost for lost, c in zip(aligned.lost, aligned.comparisons, strict=True) if c is not None]
    )
    return wrong > MOST_WRONG * compared


def best_anchored(
    plain: AlignedCharts, weights: Weights, early: Impossible | None = None
) -> AlignedCharts:
    """Return the alignment with anchors where it explains the answer better, else `plain`."""
    reference, reading = plain.reference, plain.reading
    favour = favoured_pairs(reference, reading.content)
    if early is not None:
        favour -= TOO_EARLY * early
    anchored = align_reading(reference, reading, weights, favour)
    gained = SECTION_WORTH * (_matched_sections(anchored) - _matched_sections(plain))
    gained += TOO_EARLY * (_pairs_too_early(plain, early) - _pairs_too_early(anchored, early))
    worse = lost_bars(anchored, weights) - lost_bars(plain, weights)
    best = plain
    if worse <= ROUNDING:
        best = anchored
    elif worse <= gained:
        best = replace(anchored, surcharge=anchored.surcharge - worse)
    if len(reading.content) > UNFINISHED * len(reference):
        return best
    return _unfinished(best, weights)


def _unfinished(best: AlignedCharts, weights: Weights) -> AlignedCharts:
    """Read a short answer as one that stops early, where that explains it nearly as well.

    Its bars may be found anywhere in the song; one that was written straight from the start is read
    as such where half of it agrees then.
    """
    reference, reading = best.reference, best.reading
    stopped = align_reading(reference, reading, weights, unfinished=True)
    lost = lost_bars(stopped, weights)
    worse = lost - lost_bars(best, weights)
    fewer = _gaps_left_out(best) - _gaps_left_out(stopped)
    right = len(reference) - lost
    if _same_names(best) > _same_names(stopped) or _reaches_the_end(best):
        return best
    if fewer > 0 and worse <= GAP_WORTH * fewer and 2 * right >= len(reading.content):
        return replace(stopped, surcharge=stopped.surcharge - worse)
    return best


def _reaches_the_end(aligned: AlignedCharts) -> bool:
    """Whether the last bars of both charts stand beside each other and agree."""
    row, (one, other) = len(aligned.pairs) - 1, aligned.pairs[-1]
    last = len(aligned.reference) - 1, len(aligned.answer) - 1
    return (one, other) == last and not aligned.lost[row]


def favoured_pairs(reference: ChartContent, answer: ChartContent) -> NDArray[np.float64]:
    """Return what pairs of bars are preferred by when an alignment is chosen, in bars; (n, m).

    Preferred are bars of one chord each that are easily confused, and the first bar of a section
    of the answer with the first of a phrase in a section of that kind.
    """
    rows, ours = different_bars(reference.contents)
    columns, theirs = different_bars(answer.contents)
    table = np.array(
        [
            [
                CONFUSED
                if len(one.sonorities) == len(other.sonorities) == 1
                and not one.sonorities[0].same_chord_as(other.sonorities[0])
                and are_easily_confused(one.sonorities[0], other.sonorities[0])
                else 0.0
                for other in theirs
            ]
            for one in ours
        ]
    )
    favour: NDArray[np.float64] = table[np.ix_(rows, columns)]
    kinds, own_kinds = reference.section_kinds, answer.section_kinds
    # A section may begin with any of its phrases, where others are left out.
    for one in reference.phrase_boundaries[:-1]:
        kind = kinds[reference.section_of_bar[one]]
        for other, own_kind in zip(answer.section_boundaries[1:], own_kinds[1:], strict=False):
            if kind == own_kind:
                favour[one, other] += ANCHORED
    return favour


def _gaps_left_out(aligned: AlignedCharts) -> int:
    """Return in how many places bars are left out before the end of the answer."""
    left_out = [other is None for _, other in aligned.reordered_pairs]
    while left_out and left_out[-1]:
        left_out.pop()
    return sum(here and not before for before, here in pairwise([False, *left_out]))


def _same_names(aligned: AlignedCharts) -> int:
    """Return how many bars stand in a section of the same name as their partner."""
    ours, theirs = aligned.reordered, aligned.reading.content
    return sum(
        ours.sections[ours.section_of_bar[one]].name
        == theirs.sections[theirs.section_of_bar[other]].name
        for one, other in aligned.reordered_pairs
        if one is not None and other is not None
    )


def _matched_sections(aligned: AlignedCharts) -> int:
    """Return how many sections begin beside a phrase of one of the same kind."""
    ours, theirs = aligned.reordered, aligned.reading.content
    starts, own = set(ours.phrase_boundaries[:-1]), set(theirs.section_boundaries[1:-1])
    return sum(
        ours.section_kinds[ours.section_of_bar[one]]
        == theirs.section_kinds[theirs.section_of_bar[other]]
        for one, other in aligned.reordered_pairs
        if one is not None and other is not None and one in starts and other in own
    )
