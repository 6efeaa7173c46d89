"""Home: was the chart right, only counted from somewhere else?

Three readings of an answer are tried where it is poor as written: every number moved by the same
interval (another home note; a minor song counted from its own 1 or from its relative major), and
every number counted in the first key with key changes forgotten (a key change heard but not
written, or the other way round).

A reading is believed where the roots it explains are many (four bars with three roots, or six with
two), nearly all (four in five of the bars compared), far more than as written, and where the grade
is clearly better as meant. A chart on one chord says nothing about home, and a chart that is
merely wrong does not become right by moving it.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from trainer.chart.model import Chart
from trainer.grade.report import HomeShift
from trainer.grade.scoring import Scored, bars_score, in_song_order, score_sheets
from trainer.grade.sheet import Sheet, folded, moved
from trainer.grade.weights import Weights

__all__ = ["Meant", "find_home_shift"]

SHARE_EXPLAINED = 0.8
LEAST_GAIN_SHARE, LEAST_GAIN_SCORE = 0.3, 0.15
WORTH_LOOKING = 0.9
CANDIDATES = 2


@dataclass(frozen=True, slots=True, eq=False)
class Meant:
    """A reading that holds: what to report, and the rows graded so."""

    shift: HomeShift
    scored: Scored


def find_home_shift(chart: Chart, as_written: Scored, weights: Weights) -> Meant | None:
    """The reading that explains the answer best, or None where it is best as written."""
    written_score = bars_score(as_written, weights)
    if written_score > WORTH_LOOKING:
        return None
    best: Meant | None = None
    for reading in _readings(as_written, weights):
        score = bars_score(reading, weights)
        share = _changed(reading, as_written) / len(reading.reference)
        if (
            score >= written_score + LEAST_GAIN_SCORE * share
            and _believed(reading, as_written)
            and (best is None or score > best.shift.score_as_meant)
        ):
            best = Meant(_describe(chart, reading, as_written, score), reading)
    return best


def _readings(as_written: Scored, weights: Weights) -> list[Scored]:
    reference, answer = as_written.reference, as_written.answer
    readings = [
        score_sheets(reference, moved(answer, shift), weights)
        for shift in _likely_shifts(reference, answer)
    ]
    if any(reference.shifts) or any(answer.shifts):
        readings.append(score_sheets(folded(reference), folded(answer), weights))
    return readings


def _likely_shifts(reference: Sheet, answer: Sheet) -> list[int]:
    """The shifts under which most bars could agree, by how often each first root comes."""
    ours = Counter(shape.sounds[0].root for shape in reference.shapes)
    theirs = Counter(shape.sounds[0].root for shape in answer.shapes)
    del ours[-1]
    overlap = {
        shift: sum(min(count, theirs[(root - shift) % 12]) for root, count in ours.items())
        for shift in range(12)
    }
    least = max(4, SHARE_EXPLAINED * min(len(reference), len(answer)) - 1)
    ranked = sorted(range(1, 12), key=lambda shift: (-overlap[shift], shift))
    return [shift for shift in ranked[:CANDIDATES] if overlap[shift] >= least]


def _explained(scored: Scored) -> list[int]:
    """The rows whose roots agree from bar line to bar line, with a chord in them."""
    return [
        row
        for row, (one, _) in enumerate(scored.pairs)
        if (c := scored.comparisons[row]) is not None
        and c.root == 1.0
        and one is not None
        and scored.reference.shapes[one].sounds != ()
        and scored.reference.shapes[one].sounds[0].root >= 0
    ]


def _paired(scored: Scored) -> int:
    return sum(comparison is not None for comparison in scored.comparisons)


def _believed(reading: Scored, as_written: Scored) -> bool:
    rows, compared = _explained(reading), _paired(reading)
    roots = {
        sound.root
        for row in rows
        if (bar := reading.pairs[row][0]) is not None
        for sound in reading.reference.shapes[bar].sounds
    }
    gain = len(rows) - len(_explained(as_written))
    return (
        len(rows) >= (4 if len(roots) >= 3 else 6)
        and len(roots) >= 2
        and len(rows) >= SHARE_EXPLAINED * compared
        and gain >= max(3, LEAST_GAIN_SHARE * min(compared, _changed(reading, as_written)))
    )


def _changed(reading: Scored, as_written: Scored) -> int:
    """How many bars of the reference a reading sees otherwise: those from a key change on."""
    if reading.reference is as_written.reference:
        return len(reading.reference)
    for sheet in (as_written.reference, as_written.answer):
        if any(sheet.shifts):
            return len(sheet) - next(k for k, shift in enumerate(sheet.shifts) if shift)
    return len(reading.reference)


def _describe(chart: Chart, reading: Scored, as_written: Scored, score: float) -> HomeShift:
    semitones, first = _interval(reading, as_written)
    reference, answer = as_written.reference, as_written.answer
    if reading.reference is reference:
        kind = _home_kind(chart, reference, answer, semitones)
    elif not any(answer.shifts):
        kind = "key change not written"
    elif not any(reference.shifts):
        kind = "key change not played"
    else:
        kind = "key change elsewhere"
    return HomeShift(
        kind,
        semitones,
        first,
        len(_explained(reading)),
        _paired(reading),
        score,
        in_song_order(reading.rows),
    )


def _interval(reading: Scored, as_written: Scored) -> tuple[int, int]:
    """How far the written numbers stand above the played ones, and from which bar on."""
    for row in _explained(reading):
        one, other = reading.pairs[row]
        if one is None or other is None:
            continue
        played = as_written.reference.shapes[one].sounds[0].root
        written = as_written.answer.shapes[other].sounds[0].root
        if played != written:
            return (written - played) % 12, one + 1
    return 0, 1


def _home_kind(chart: Chart, reference: Sheet, answer: Sheet, semitones: int) -> str:
    """Name a shift: between a minor 1 and its relative major, or any other."""
    if semitones == 9 and (chart.key.minor or _rests_on_minor(reference, 0)):
        return "relative major"
    if semitones == 3 and _rests_on_minor(answer, 0):
        return "own minor 1"
    return "another home"


def _rests_on_minor(sheet: Sheet, root: int) -> bool:
    """Whether the song starts or ends on a minor chord on this root."""
    for shape, place in ((sheet.shapes[0], 0), (sheet.shapes[-1], -1)):
        sound = shape.sounds[place]
        if sound.root == root and sound.tones >> (root + 3) % 12 & 1:
            return True
    return False
