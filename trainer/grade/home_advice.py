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
from trainer.grade.mistakes import Mistake, bar_text
from trainer.grade.report import Advice, Case, HomeShift
from trainer.grade.weights import Weights

__all__ = ["advise_on_home"]


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Rows of neighbouring bars of the song that are moved by one interval, `shift` semitones."""

    shift: int
    rows: list[int]


def advise_on_home(
    shift: HomeShift,
    aligned: AlignedCharts,
    of_keys: Sequence[Mistake],
    cost_of_bar: float,
    weights: Weights,
) -> tuple[list[Advice], list[Mistake]]:
    """Return the advice on the 1, and the mistakes in key changes that it does not speak of.

    `of_keys` are the mistakes in key changes.
    """
    advice = []
    stretches = _stretches(aligned)
    told: set[int | None] = set()
    for one in stretches:
        counted = _counted_from(shift, aligned, one, alone=len(stretches) == 1)
        lost = sum(_lost_by_reading(aligned, row, weights) for row in one.rows)
        advice.append(_advice(counted, aligned, one.rows, lost * cost_of_bar))
        told.update(counted.bars)
    for rows in _runs(aligned, aligned.keys_off):
        counted = _off_key(aligned, rows)
        lost = sum(_lost_by_reading(aligned, row, weights) for row in rows)
        if counted.kind == "key sign missing":
            told.add(counted.bars[0])
            absorbed = [one for one in of_keys if one.bars == [counted.bars[0]]]
            lost += sum(one.lost_bars for one in absorbed)
            rows = [rows[0] - 1, *rows]
        advice.append(_advice(counted, aligned, rows, lost * cost_of_bar))
    return advice, [one for one in of_keys if not told.issuperset(one.bars)]


def _lost_by_reading(aligned: AlignedCharts, row: int, weights: Weights) -> float:
    """Return what a row lost, in bars, by the 1 or the key that it is counted in."""
    comparison = aligned.comparisons[row]
    if comparison is None or any(row in rows for rows in aligned.counted):
        return 0.0
    in_the_bar = (1.0 - bar_credit(comparison, weights)) * aligned.keeps[row]
    return max(0.0, aligned.lost[row] - in_the_bar)


def _advice(
    counted: CountedFrom, aligned: AlignedCharts, rows: Sequence[int], cost: float
) -> Advice:
    cases = _cases(aligned, rows)
    return Advice(f"home: {counted.kind}", home_text(counted, aligned), cost, cases)


def _runs(aligned: AlignedCharts, rows: Sequence[int]) -> list[list[int]]:
    """Return rows next to each other whose bars are next to each other in the song."""
    runs: list[list[int]] = []
    for row in rows:
        before = aligned.pairs[row - 1][0]
        if runs and runs[-1][-1] == row - 1 and aligned.pairs[row][0] == (before or 0) + 1:
            runs[-1].append(row)
        else:
            runs.append([row])
    return runs


def _off_key(aligned: AlignedCharts, rows: Sequence[int]) -> CountedFrom:
    """Say of rows whose numbers are right that the key which is marked is missing or wrong.

    It is missing where the key changes in the row before and no change is written there, and none
    was written wrongly before. Where a bar with a change of key is left out or added, it is
    misplaced: the same key may hold behind it.
    """
    one, other = aligned.pairs[rows[0] - 1] if rows[0] else (None, None)
    bars = [(aligned.pairs[row][0] or 0) + 1 for row in rows]
    kind = "key sign wrong"
    if (
        one is not None
        and other is not None
        and one + 2 == bars[0]
        and aligned.reference.bars[one].key_change
        and not aligned.answer.bars[other].key_change
        and rows[0] - 2 not in aligned.keys_off
        and all(_is_in_another_key(aligned, row) for row in (rows[0] - 1, *rows))
    ):
        kind = "key sign missing"
        bars = [one + 1, *bars]
    elif not all(_is_in_another_key(aligned, row) for row in rows):
        kind = "key sign misplaced"
    return CountedFrom(kind, 0, tuple(bars), 0, 0, None)


def _is_in_another_key(aligned: AlignedCharts, row: int) -> bool:
    """Whether the key that is marked in a row, as it is written, is not the one that is played."""
    one, other = aligned.pairs[row][0], aligned.sources[row]
    if one is None or other is None:
        return False
    written = sum(bar.key_change for bar in aligned.answer.bars[: other + 1])
    return bool((aligned.reference.key_shifts[one] - written) % 12)


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
    right = sum(meant.get(bar + 1, False) for bar in bars)
    return CountedFrom(
        kind,
        -stretch.shift % 12,
        tuple(bar + 1 for bar in bars),
        right,
        len(bars),
        shift.score_as_meant if alone else None,
    )


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
