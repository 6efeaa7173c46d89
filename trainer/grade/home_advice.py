"""Advise on numbers that are counted from another 1, each stretch of them by itself.

Most answers have one stretch: the whole chart, or the bars from a change of key on. Where several
stretches are moved, or by several intervals, each gets its own sentence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trainer.grade.aligned import AlignedCharts
from trainer.grade.chart_wording import CountedFrom, home_text
from trainer.grade.compare import bar_credit
from trainer.grade.mistakes import bar_text
from trainer.grade.report import Advice, Case, HomeShift
from trainer.grade.weights import Weights

__all__ = ["advise_on_home", "lost_by_reading"]


# How far numbers stand above those of a song in minor that are counted from its relative major, and
# of a song in major from its relative minor.
FROM_RELATIVE = {"major": 9, "minor": 3}


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Rows of neighbouring bars of the song that are moved by one interval, `shift` semitones."""

    shift: int
    rows: list[int]


def advise_on_home(
    shift: HomeShift, aligned: AlignedCharts, cost_of_bar: float, weights: Weights
) -> tuple[list[Advice], frozenset[int]]:
    """Return the advice on the 1, and the bars of the song, from 1, that it speaks of."""
    advice = []
    stretches = _stretches(aligned)
    told: set[int] = set()
    for one in stretches:
        counted = _counted_from(shift, aligned, one, alone=len(stretches) == 1)
        lost = sum(lost_by_reading(aligned, row, weights) for row in one.rows)
        text = home_text(counted, aligned)
        cost, cases = lost * cost_of_bar, _cases(aligned, one.rows)
        advice.append(Advice(f"home: {counted.kind}", text, cost, cases))
        told.update(counted.bars)
    return advice, frozenset(told)


def lost_by_reading(aligned: AlignedCharts, row: int, weights: Weights) -> float:
    """Return what a row lost, in bars, by the 1 or the key that it is counted in."""
    comparison = aligned.comparisons[row]
    if comparison is None or any(row in rows for rows in aligned.counted):
        return 0.0
    in_the_bar = (1.0 - bar_credit(comparison, weights)) * aligned.keeps[row]
    return max(0.0, aligned.lost[row] - in_the_bar)


def _stretches(aligned: AlignedCharts) -> list[_Stretch]:
    """Return the stretches of the song whose numbers are moved, in order."""
    shifts = aligned.shifts()
    rows = sorted(
        (one, row)
        for row, ((one, other), moved) in enumerate(zip(aligned.pairs, shifts, strict=True))
        if one is not None and other is not None and moved is not None
    )
    found: list[_Stretch] = []
    before = 0
    for _, row in rows:
        moved = shifts[row] or 0
        if moved and moved == before:
            found[-1].rows.append(row)
        elif moved:
            found.append(_Stretch(moved, [row]))
        before = moved
    return found


def _counted_from(
    shift: HomeShift, aligned: AlignedCharts, stretch: _Stretch, *, alone: bool
) -> CountedFrom:
    """Say from which 1 a stretch is counted."""
    bars = [aligned.pairs[row][0] or 0 for row in stretch.rows]
    kind = shift.kind if alone else _kind_of_part(aligned, stretch.rows[0])
    meant = {row.reference: row.root == 1.0 for row in shift.bars if row.answer is not None}
    # A silent bar has no root to be right.
    compared = [bar for bar in bars if aligned.reference.contents[bar].has_chord]
    right = sum(meant.get(bar + 1, False) for bar in compared)
    semitones = -stretch.shift % 12
    if kind.startswith("key change"):
        kind = _kind_at_a_sign(aligned, stretch, kind)
    return CountedFrom(
        kind,
        semitones,
        tuple(bar + 1 for bar in bars),
        right,
        len(compared),
        shift.score_as_meant if alone else None,
        _is_relative(aligned, semitones),
    )


def _is_relative(aligned: AlignedCharts, semitones: int) -> bool:
    """Whether numbers stand as far off as if they were counted from the relative major or minor."""
    song = aligned.reference.contents
    minor = sum(bar.sonorities[0].root == 0 and bar.sonorities[0].tones >> 3 & 1 for bar in song)
    major = sum(bar.sonorities[0].root == 0 and bar.sonorities[0].tones >> 4 & 1 for bar in song)
    return semitones == FROM_RELATIVE["major" if minor > major else "minor"]


def _kind_at_a_sign(aligned: AlignedCharts, stretch: _Stretch, kind: str) -> str:
    """Name what was done at a sign, more closely where the chords of the stretch sound right."""
    one, other = aligned.pairs[stretch.rows[0]][0], aligned.sources[stretch.rows[0]]
    if one is None or other is None or not _sounds_right(aligned, stretch):
        return kind
    played, written = aligned.reference.bars[one], aligned.answer.bars[other]
    if written.key_change and not played.key_change:
        return "key change not played"
    last, last_own = aligned.pairs[stretch.rows[-1]][0], aligned.sources[stretch.rows[-1]]
    if last is None or last_own is None or written.key_change or not played.key_change:
        return kind
    after = aligned.answer.bars[last_own + 1 : last_own + 2]
    if after and after[0].key_change == played.key_change:
        return "key change late"
    return kind


def _sounds_right(aligned: AlignedCharts, stretch: _Stretch) -> bool:
    """Whether the bars of a stretch sound as they were played, by numbers and signs together."""
    for row in stretch.rows:
        one, other = aligned.pairs[row][0], aligned.sources[row]
        if one is None or other is None:
            return False
        written = sum(bar.key_change for bar in aligned.answer.bars[: other + 1])
        if (written - stretch.shift - aligned.reference.key_shifts[one]) % 12:
            return False
    return True


def _kind_of_part(aligned: AlignedCharts, row: int) -> str:
    """Name how a part is counted from another 1, by the key change where it begins."""
    one, other = aligned.pairs[row]
    played = one is not None and aligned.reference.bars[one].key_change
    written = other is not None and aligned.answer.bars[other].key_change
    if played:
        return "numbers of the old key" if written else "key change not written"
    return "key change elsewhere" if written else "section from another home"


def _cases(aligned: AlignedCharts, rows: Sequence[int]) -> tuple[Case, ...]:
    found = []
    for row in rows:
        one, other = aligned.pairs[row][0], aligned.sources[row]
        if one is not None and other is not None:
            bars = aligned.reference.bars[one], aligned.answer.bars[other]
            found.append(Case(one + 1, other + 1, *map(bar_text, bars)))
    return tuple(found)
