"""Find out whether a chart is right, only counted from another tonic (home).

Three readings of an answer are tried where it is poor as it is written: every number moved by the
same interval (another tonic; a minor song counted from its own 1 or from its relative major), and
every number counted in the first key with key changes ignored (a key change heard but not written,
or the other way round).

A reading is believed where the roots it explains are many (four bars with three roots, or six with
two), nearly all (four in five of the bars compared), far more than as written, and where the grade
is clearly better as read. A chart on one chord says nothing about the tonic, and a chart that is
merely wrong does not become right by moving it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from trainer.chart.model import Chart
from trainer.grade.content import ChartContent, in_first_key, transposed
from trainer.grade.report import HomeShift
from trainer.grade.scoring import AlignedCharts, align_charts, bars_score, in_song_order
from trainer.grade.weights import Weights

__all__ = ["HomeReading", "find_home_reading"]

# Of the bars compared, the share whose roots a reading must explain.
SHARE_EXPLAINED = 0.8
LEAST_GAIN_SHARE, LEAST_GAIN_SCORE = 0.3, 0.15
# Above this score of the bars no reading is tried.
MOST_SCORE_TO_TRY = 0.9
CANDIDATES = 2


@dataclass(frozen=True, slots=True, eq=False)
class HomeReading:
    """An answer read from another tonic: what to report, and the charts aligned as read."""

    shift: HomeShift
    aligned: AlignedCharts


def find_home_reading(
    chart: Chart, as_written: AlignedCharts, weights: Weights
) -> HomeReading | None:
    """Return the reading that explains the answer best, or None where it is best as written.

    `chart` is the reference, for its key.
    """
    written_score = bars_score(as_written, weights)
    if written_score > MOST_SCORE_TO_TRY:
        return None
    best: HomeReading | None = None
    for reading in _readings(as_written, weights):
        score = bars_score(reading, weights)
        share = _changed_bars(reading, as_written) / len(reading.reference)
        if (
            score >= written_score + LEAST_GAIN_SCORE * share
            and _is_believed(reading, as_written)
            and (best is None or score > best.shift.score_as_meant)
        ):
            best = HomeReading(_describe(chart, reading, as_written, score), reading)
    return best


def _readings(as_written: AlignedCharts, weights: Weights) -> list[AlignedCharts]:
    """Align the answer with the reference in each reading."""
    reference, answer = as_written.reference, as_written.answer
    readings = [
        align_charts(reference, transposed(answer, shift), weights)
        for shift in _likely_shifts(reference, answer)
    ]
    if any(reference.key_shifts) or any(answer.key_shifts):
        readings.append(align_charts(in_first_key(reference), in_first_key(answer), weights))
    return readings


def _likely_shifts(reference: ChartContent, answer: ChartContent) -> list[int]:
    """Return the shifts, in semitones, under which most bars could agree.

    They are judged by how often each root comes first in a bar of either side.
    """
    ours = Counter(bar.sonorities[0].root for bar in reference.contents)
    theirs = Counter(bar.sonorities[0].root for bar in answer.contents)
    del ours[-1]
    overlap = {
        shift: sum(min(count, theirs[(root - shift) % 12]) for root, count in ours.items())
        for shift in range(12)
    }
    least = max(4, SHARE_EXPLAINED * min(len(reference), len(answer)) - 1)
    ranked = sorted(range(1, 12), key=lambda shift: (-overlap[shift], shift))
    return [shift for shift in ranked[:CANDIDATES] if overlap[shift] >= least]


def _explained_rows(aligned: AlignedCharts) -> list[int]:
    """Return the rows whose roots agree throughout the bar and that begin with a chord."""
    return [
        row
        for row, (one, _) in enumerate(aligned.pairs)
        if (c := aligned.comparisons[row]) is not None
        and c.root == 1.0
        and one is not None
        and aligned.reference.contents[one].sonorities != ()
        and aligned.reference.contents[one].sonorities[0].root >= 0
    ]


def _compared_bars(aligned: AlignedCharts) -> int:
    """Return how many bars of either side have a partner."""
    return sum(comparison is not None for comparison in aligned.comparisons)


def _is_believed(reading: AlignedCharts, as_written: AlignedCharts) -> bool:
    """Return whether a reading explains enough, by the thresholds of this module."""
    rows, compared = _explained_rows(reading), _compared_bars(reading)
    roots = {
        sonority.root
        for row in rows
        if (bar := reading.pairs[row][0]) is not None
        for sonority in reading.reference.contents[bar].sonorities
    }
    gain = len(rows) - len(_explained_rows(as_written))
    return (
        len(rows) >= (4 if len(roots) >= 3 else 6)
        and len(roots) >= 2
        and len(rows) >= SHARE_EXPLAINED * compared
        and gain >= max(3, LEAST_GAIN_SHARE * min(compared, _changed_bars(reading, as_written)))
    )


def _changed_bars(reading: AlignedCharts, as_written: AlignedCharts) -> int:
    """Return how many bars of the reference a reading changes: those from a key change on."""
    if reading.reference is as_written.reference:
        return len(reading.reference)
    for chart in (as_written.reference, as_written.answer):
        if any(chart.key_shifts):
            return len(chart) - next(k for k, shift in enumerate(chart.key_shifts) if shift)
    return len(reading.reference)


def _describe(
    chart: Chart, reading: AlignedCharts, as_written: AlignedCharts, score: float
) -> HomeShift:
    semitones, first = _interval(reading, as_written)
    reference, answer = as_written.reference, as_written.answer
    if reading.reference is reference:
        kind = _shift_kind(chart, reference, answer, semitones)
    elif not any(answer.key_shifts):
        kind = "key change not written"
    elif not any(reference.key_shifts):
        kind = "key change not played"
    else:
        kind = "key change elsewhere"
    return HomeShift(
        kind,
        semitones,
        first,
        len(_explained_rows(reading)),
        _compared_bars(reading),
        score,
        in_song_order(reading.rows),
    )


def _interval(reading: AlignedCharts, as_written: AlignedCharts) -> tuple[int, int]:
    """Return how far the written numbers stand above those played, and from which bar on.

    In semitones, 0 to 11, and a bar of the reference from 1.
    """
    for row in _explained_rows(reading):
        one, other = reading.pairs[row]
        if one is None or other is None:
            continue
        played = as_written.reference.contents[one].sonorities[0].root
        written = as_written.answer.contents[other].sonorities[0].root
        if played != written:
            return (written - played) % 12, one + 1
    return 0, 1


def _shift_kind(chart: Chart, reference: ChartContent, answer: ChartContent, semitones: int) -> str:
    """Name a shift: between a minor 1 and its relative major, or any other."""
    if semitones == 9 and (chart.key.minor or _rests_on_minor(reference, 0)):
        return "relative major"
    if semitones == 3 and _rests_on_minor(answer, 0):
        return "own minor 1"
    return "another home"


def _rests_on_minor(chart: ChartContent, root: int) -> bool:
    """Return whether the song starts or ends on a minor chord on this root."""
    for bar, place in ((chart.contents[0], 0), (chart.contents[-1], -1)):
        sonority = bar.sonorities[place]
        if sonority.root == root and sonority.tones >> (root + 3) % 12 & 1:
            return True
    return False
