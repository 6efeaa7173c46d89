"""Phrase limits: were the places heard where the vocal starts over?

Only limits inside the chart count; its start and end are given away by the bars. As
`mir_eval.segment.detection` does with `trim`, each limit of one side is matched with at most one of
the other, and precision, recall and F-measure are taken over the matches. Unlike there, two charts
that both have no limit inside agree perfectly (a drill of one phrase).

A limit of the answer stands at the places of the song that the alignment brings it to. Where bars
were left out around it these are several, and any of them will do: leaving out the last bar of a
phrase does not move the phrase's end.
"""

from __future__ import annotations

from collections.abc import Sequence

from trainer.grade.alignment import Pair
from trainer.grade.report import PhraseGrade
from trainer.grade.sheet import Sheet

__all__ = ["grade_phrases", "limit_places", "match_limits"]


def grade_phrases(reference: Sheet, answer: Sheet, pairs: Sequence[Pair]) -> PhraseGrade:
    """Grade the answer's phrase limits, given the pairs of the alignment."""
    ours, theirs = reference.limits[1:-1], answer.limits[1:-1]
    if not ours and not theirs:
        return PhraseGrade(1.0, 1.0, 1.0, 1.0, 1.0, 1.0)
    places = limit_places(theirs, pairs)
    exact, near = (len(match_limits(ours, places, reach)) for reach in (0, 1))
    return PhraseGrade(
        *_measures(exact, len(ours), len(theirs)), *_measures(near, len(ours), len(theirs))
    )


def limit_places(limits: Sequence[int], pairs: Sequence[Pair]) -> list[tuple[int, int]]:
    """The first and last place in the song (bars before it) that each answer limit comes to."""
    span: dict[int, list[int]] = {0: [0, 0]}
    i = j = 0
    for one, other in pairs:
        i += one is not None
        j += other is not None
        span.setdefault(j, [i, i])[1] = i
    return [(span[limit][0], span[limit][1]) for limit in limits]


def match_limits(
    limits: Sequence[int], places: Sequence[tuple[int, int]], reach: int
) -> list[tuple[int, int]]:
    """Match limits with places at most `reach` bars away, one to one, as many as possible.

    Both come in rising order, so taking the first that fits is best. Returns index pairs.
    """
    matched, i, j = [], 0, 0
    while i < len(limits) and j < len(places):
        low, high = places[j]
        if limits[i] < low - reach:
            i += 1
        elif limits[i] > high + reach:
            j += 1
        else:
            matched.append((i, j))
            i, j = i + 1, j + 1
    return matched


def _measures(matched: int, ours: int, theirs: int) -> tuple[float, float, float]:
    """Precision, recall and F-measure; 0 where a side has nothing, as mir_eval has it."""
    precision = matched / theirs if theirs else 0.0
    recall = matched / ours if ours else 0.0
    return precision, recall, 2 * matched / (ours + theirs)
