"""Grade what stands above the bars: phrases and speed (the form stands in `form`).

Phrases. The question is whether the places were heard where the vocal starts over. Only boundaries
inside the chart count; its start and end are given away by the bars. As
`mir_eval.segment.detection` does with `trim`, each boundary of one side is matched with at most one
of the other, and precision, recall and F-measure are taken over the matches. Unlike there, two
charts that both have no boundary inside agree perfectly (a drill of one phrase). A boundary of the
answer stands at the bar lines of the song that the alignment brings it to. Where bars were left out
around it these are several, and any of them will do: leaving out the last bar of a phrase does not
move the phrase's end.

Speed. A bar's lag is the time from when it began to sound to when it was written, in beats of the
song. Times are seconds on the clock of the playback.
"""

from __future__ import annotations

import math
from collections.abc import Container, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from itertools import pairwise
from statistics import median
from typing import TYPE_CHECKING

from trainer.errors import InputError
from trainer.grade.content import ChartContent
from trainer.grade.report import PhraseGrade, SpeedGrade

if TYPE_CHECKING:
    from trainer.grade.align_table import Pair

__all__ = [
    "Timing",
    "bar_lags",
    "boundary_spans",
    "check_timing",
    "grade_phrases",
    "grade_speed",
    "match_boundaries",
]


def grade_phrases(
    reference: ChartContent,
    answer: ChartContent,
    pairs: Sequence[Pair],
    repeated: AbstractSet[int] = frozenset(),
) -> PhraseGrade:
    """Grade the answer's phrase boundaries, given the pairs of the alignment.

    The ends of phrases that were written again (`repeated`, bars of the answer from 0) do not
    count: the phrase is charged as such.
    """
    ours = reference.phrase_boundaries[1:-1]
    theirs = tuple(at for at in answer.phrase_boundaries[1:-1] if at - 1 not in repeated)
    if not ours and not theirs:
        return PhraseGrade(1.0, 1.0, 1.0, 1.0, 1.0, 1.0)
    spans = boundary_spans(theirs, pairs)
    exact, near = (len(match_boundaries(ours, spans, reach)) for reach in (0, 1))
    return PhraseGrade(
        *_precision_recall_f(exact, len(ours), len(theirs)),
        *_precision_recall_f(near, len(ours), len(theirs)),
    )


def boundary_spans(boundaries: Sequence[int], pairs: Sequence[Pair]) -> list[tuple[int, int]]:
    """Return the first and last bar line of the song that each boundary of the answer comes to.

    A bar line is counted by the bars before it.
    """
    first, last, at = [0], [0], 0
    for one, other in pairs:
        at += one is not None
        if other is None:
            last[-1] = at
        else:
            first.append(at)
            last.append(at)
    return [(first[boundary], last[boundary]) for boundary in boundaries]


def match_boundaries(
    boundaries: Sequence[int], spans: Sequence[tuple[int, int]], reach: int
) -> list[tuple[int, int]]:
    """Match boundaries with spans at most `reach` bars away, one to one, as many as possible.

    Both come in rising order, so taking the first that fits is best. Returns index pairs.
    """
    matched, i, j = [], 0, 0
    while i < len(boundaries) and j < len(spans):
        low, high = spans[j]
        if boundaries[i] < low - reach:
            i += 1
        elif boundaries[i] > high + reach:
            j += 1
        else:
            matched.append((i, j))
            i, j = i + 1, j + 1
    return matched


def _precision_recall_f(matched: int, ours: int, theirs: int) -> tuple[float, float, float]:
    """Return precision, recall and F-measure; 0 where a side has nothing, as mir_eval has it."""
    precision = matched / theirs if theirs else 0.0
    recall = matched / ours if ours else 0.0
    return precision, recall, 2 * matched / (ours + theirs)


@dataclass(frozen=True, slots=True)
class Timing:
    """When bars sounded and when they were written.

    `bar_done_s` holds for each bar of the answer when it was finished, None if that is not
    known; `bar_times_s` the start and end of each bar of the reference; `seconds_per_beat` is the
    length of the song's beat; `listens` counts passes through the audio, `paused` says whether it
    was stopped on the way. Raises InputError for times that are not finite or beats that do not
    last.
    """

    bar_done_s: tuple[float | None, ...]
    bar_times_s: tuple[tuple[float, float], ...]
    seconds_per_beat: float
    listens: int = 1
    paused: bool = False

    def __post_init__(self) -> None:
        times = [time for time in self.bar_done_s if time is not None]
        times += [time for pair in self.bar_times_s for time in pair]
        if not all(map(math.isfinite, times)):
            raise InputError("timing: found a time that is not finite, expected seconds")
        if not (self.seconds_per_beat > 0 and math.isfinite(self.seconds_per_beat)):
            raise InputError(
                f"timing: found {self.seconds_per_beat} seconds per beat, expected more than 0"
            )
        if self.listens < 0:
            raise InputError(f"timing: found {self.listens} listens, expected 0 or more")


def check_timing(timing: Timing, reference_bars: int, answer_bars: int) -> None:
    """Raise InputError unless there is one time for each bar of either side."""
    for name, found, expected in (
        ("bar_times_s", len(timing.bar_times_s), reference_bars),
        ("bar_done_s", len(timing.bar_done_s), answer_bars),
    ):
        if found != expected:
            raise InputError(f"timing: found {found} {name}, expected one a bar, {expected}")


def bar_lags(timing: Timing, pairs: Sequence[Pair]) -> list[float | None]:
    """Return the lag in beats of each row of the alignment, None if a side has no time."""
    lags: list[float | None] = []
    for one, other in pairs:
        done = None if other is None else timing.bar_done_s[other]
        if one is None or done is None:
            lags.append(None)
        else:
            lags.append((done - timing.bar_times_s[one][0]) / timing.seconds_per_beat)
    return lags


def grade_speed(
    timing: Timing, pairs: Sequence[Pair], swapped: Container[int] = frozenset()
) -> SpeedGrade:
    """Summarise the lags. Bars of the reference (from 0) that were `swapped` say nothing of speed.

    "First pass" is one listen, no pause, every bar of the answer timed, and the last bar written
    no later than one bar's length after the song's last bar ended.
    """
    # In the song's order, which swapped sections are not in.
    pairs = sorted((one, other) for one, other in pairs if one is not None)
    lags = bar_lags(timing, pairs)
    in_order = [None if pair[0] in swapped else lag for pair, lag in zip(pairs, lags, strict=True)]
    known = [lag for lag in in_order if lag is not None]
    done = [time for time in timing.bar_done_s if time is not None]
    start, (last_start, last_end) = timing.bar_times_s[0][0], timing.bar_times_s[-1]
    first_pass = (
        timing.listens == 1
        and not timing.paused
        and bool(done)
        and len(done) == len(timing.bar_done_s)
        and max(done) <= last_end + (last_end - last_start)
    )
    spent = max(done) - start if done else 0.0
    return SpeedGrade(
        first_pass,
        timing.listens,
        timing.paused,
        median(known) if known else None,
        max(known) if known else None,
        60 * len(done) / spent if spent > 0 else None,
        _fell_behind(timing, pairs, in_order),
        tuple(lags),
    )


def _fell_behind(timing: Timing, pairs: Sequence[Pair], lags: Sequence[float | None]) -> int | None:
    """Return the first bar (from 1) of the longest run of bars that lag a bar or more, or None.

    The lag is taken over the median, or over the sound itself if most bars were written ahead of
    it.
    """
    timed = [
        (one, lag)
        for (one, _), lag in zip(pairs, lags, strict=True)
        if one is not None and lag is not None
    ]
    if not timed:
        return None
    # Who wrote ahead of the sound is not behind when the sound catches up.
    usual = max(0.0, median(lag for _, lag in timed))
    behind = []
    for one, lag in timed:
        start, end = timing.bar_times_s[one]
        behind.append(lag - usual >= (end - start) / timing.seconds_per_beat)
    edges = [
        k for k in range(len(timed) + 1) if (k and behind[k - 1]) != (k < len(timed) and behind[k])
    ]
    runs = [(b - a, -a) for a, b in pairwise(edges) if behind[a]]
    return timed[-max(runs)[1]][0] + 1 if runs else None
