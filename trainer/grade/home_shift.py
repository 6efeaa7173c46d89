"""Describe how the numbers of an answer are counted from another 1 than the song's."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.chart.model import Chart
from trainer.grade.aligned import AlignedCharts, bars_score, in_song_order
from trainer.grade.belief import explained_bars
from trainer.grade.content import BarContent, ChartContent
from trainer.grade.report import HomeShift
from trainer.grade.rows import as_meant
from trainer.grade.weights import Weights

__all__ = ["describe_shift", "kind_of_shift"]

# The relative major of a minor song lies a minor third above its tonic: counted from there, its
# numbers stand a major sixth above the song's; the other way, a minor third.
MAJOR_SIXTH, MINOR_THIRD = 9, 3


def kind_of_shift(
    semitones: int, chart: Chart, reference: ChartContent, own: Sequence[BarContent]
) -> str:
    """Name the distance by which numbers of the answer, `own`, stand above the song's."""
    minor = chart.key.minor or _rests_on_minor(reference.contents, 0)
    if semitones == MAJOR_SIXTH and minor:
        return "relative major"
    if semitones == MINOR_THIRD and _rests_on_minor(own, 0):
        return "own minor 1"
    return "another home"


def _rests_on_minor(bars: Sequence[BarContent], root: int) -> bool:
    """Return whether bars start or end on a minor chord on this root."""
    for bar, end in ((bars[0], 0), (bars[-1], -1)):
        sonority = bar.sonorities[end]
        if sonority.root == root and sonority.tones >> (root + MINOR_THIRD) % 12 & 1:
            return True
    return False


def describe_shift(
    best: AlignedCharts, chart: Chart, content: ChartContent, weights: Weights
) -> HomeShift | None:
    """Describe how the numbers are counted from another 1, or None.

    `best` is the reading that was taken; `chart` is the song, `content` the answer as written.
    """
    reading = best.reading
    if reading.is_as_written or not any(one.shift for one in reading.read_bars):
        return _describe_missing_sign(best, content, weights)
    shifted = [
        (one, other)
        for (one, other), shift in zip(best.pairs, best.shifts(), strict=True)
        if shift and one is not None and other is not None
    ]
    if not shifted:
        return _describe_missing_sign(best, content, weights)
    first, last = min(shifted)[0], max(shifted)[0]
    other = min(shifted)[1]
    shift = next(one.shift for one in best.reading.read_bars if other in one.bars)
    semitones = -shift % 12
    whole = all(shift for shift in best.shifts() if shift is not None)
    in_keys = _is_key_reading(best, content)
    if in_keys:
        if not any(content.key_shifts):
            kind = "key change not written"
        elif not any(best.reference.key_shifts):
            kind = "key change not played"
        else:
            kind = "key change elsewhere"
    elif whole:
        kind = kind_of_shift(semitones, chart, best.reference, content.contents)
    elif best.reference.contents[first].key_change:
        kind = "numbers of the old key"
    else:
        kind = "section from another home"
    explained = explained_bars(best)
    compared = [
        other
        for one, other in best.pairs
        if one is not None and other is not None and first <= one <= last
        if best.reference.contents[one].has_chord
    ]
    meant = as_meant(best, weights)
    return HomeShift(
        kind,
        semitones,
        first + 1,
        sum(bar in explained for bar in compared),
        len(compared),
        bars_score(meant, weights),
        in_song_order(meant.rows),
        last + 1,
    )


def _is_key_reading(best: AlignedCharts, content: ChartContent) -> bool:
    """Whether the answer was read in other keys than it is written in."""
    return any(one.content.key_change != one.bar.key_change for one in best.reading.read_bars) or (
        bool(any(content.key_shifts) and not any(best.reference.key_shifts))
        and any(one.shift for one in best.reading.read_bars)
    )


def _describe_missing_sign(
    best: AlignedCharts, content: ChartContent, weights: Weights
) -> HomeShift | None:
    if not best.keys_off:
        return None
    bars = [one for row in best.keys_off if (one := best.pairs[row][0]) is not None]
    meant = as_meant(best, weights)
    explained = explained_bars(best)
    own = [other for row in best.keys_off if (other := best.sources[row]) is not None]
    semitones = best.reference.key_shifts[bars[0]] - content.key_shifts[own[0]]
    changes = [k for k in range(bars[0] + 1) if best.reference.contents[k].key_change]
    first = changes[-1] if changes else bars[0]
    return HomeShift(
        "key sign missing" if not any(content.key_shifts) else "key sign wrong",
        semitones % 12,
        first + 1,
        sum(bar in explained for bar in own),
        len(own),
        bars_score(meant, weights),
        in_song_order(meant.rows),
        bars[-1] + 1,
    )
