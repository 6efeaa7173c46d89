"""Name what was done to whole bars.

Bars may be left out or not written, added, doubled, swapped, counted double or half, written as two
bars or as one. Each is named as one edit of the alignment; only the phrases or sections of a swap,
and what is counted double or half, may hold other edits. Bars count from 0 in alignments and from 1
in edits.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from trainer.grade.aligned import AlignedCharts
from trainer.grade.content import ChartContent
from trainer.grade.report import AlignmentEdit

if TYPE_CHECKING:
    from trainer.grade.align_table import Pair
    from trainer.grade.reordering import BlockSwap

__all__ = ["find_edits"]

# So many missing bars in a row are not written, wherever they are: nobody forgets two phrases of
# four bars one by one.
LONG_STRETCH = 8
# This many are enough at the start or the end of the song, where a writer starts late or stops.
SHORT_STRETCH = 3
# From this share of the song's bars on, what is counted double or half is the song, not a part.
SHARE_OF_SONG = 0.8
# Pairs of bars counted as one belong to one stretch if at most this many bars lie between them.
MOST_BETWEEN = 1
# Bars that changed places may stand beyond at most this many times as many other bars.
MOST_PASSED = 2


def find_edits(aligned: AlignedCharts) -> tuple[AlignmentEdit, ...]:
    """Return what was done to whole bars, in the order of the song."""
    found = [_block_swap(aligned, swap) for swap in aligned.swaps]
    found += [_split_or_merged(aligned, rows) for rows in aligned.two_to_one]
    found += [_repeated(aligned, rows) for rows in aligned.repeated]
    found += _counted(aligned)
    found += _swapped_bars(aligned)
    gaps = {row for row, comparison in enumerate(aligned.comparisons) if comparison is None}
    for taken in (aligned.two_to_one, aligned.repeated, aligned.counted):
        gaps -= {row for rows in taken for row in rows}
    for edit, rows in _swapped_runs(aligned, gaps):
        if rows <= gaps:
            found.append(edit)
            gaps -= rows
    found += [_left_out_or_added(aligned, run) for run in _runs(aligned, gaps)]
    return tuple(sorted(found, key=lambda edit: (edit.reference or edit.answer, edit.kind)))


def _from_one(bars: Sequence[int]) -> tuple[int, ...]:
    return tuple(bar + 1 for bar in bars)


def _runs(aligned: AlignedCharts, gaps: set[int]) -> list[list[int]]:
    """Return rows next to each other with a gap on one side, whose bars are next to each other."""
    runs: list[list[int]] = []
    for row in sorted(gaps):
        before, here = aligned.pairs[row - 1], aligned.pairs[row]
        if runs and runs[-1][-1] == row - 1 and _follows(before, here):
            runs[-1].append(row)
        else:
            runs.append([row])
    return runs


def _follows(before: Pair, here: Pair) -> bool:
    if before[0] is None or here[0] is None:
        return before[0] is here[0]
    return here[0] == before[0] + 1


def _song_bars(aligned: AlignedCharts, rows: Sequence[int]) -> list[int]:
    return [bar for row in rows if (bar := aligned.pairs[row][0]) is not None]


def _answer_bars(aligned: AlignedCharts, rows: Sequence[int]) -> list[int]:
    return [bar for row in rows if (bar := aligned.pairs[row][1]) is not None]


def _unit(chart: ChartContent, bars: Sequence[int]) -> str:
    """Return whether a run of bars is whole sections, whole phrases or bars of a phrase."""
    first, end = bars[0], bars[-1] + 1
    sections, phrases = chart.section_boundaries, chart.phrase_boundaries
    if first in sections and end in sections and len(chart.sections) > 1:
        return "section"
    if first in phrases and end in phrases and len(phrases) > 2:
        return "phrase"
    return "bar"


def _left_out_or_added(aligned: AlignedCharts, run: Sequence[int]) -> AlignmentEdit:
    song, own = _song_bars(aligned, run), _answer_bars(aligned, run)
    if song:
        unit = _unit(aligned.reference, song)
        if _is_stretch(aligned.reference, song, unit):
            return AlignmentEdit("not written", "stretch", _from_one(song), ())
        return AlignmentEdit("left out", unit, _from_one(song), ())
    answer, size = aligned.answer, len(own)
    before = answer.contents[max(0, own[0] - size) : own[0]]
    here = answer.contents[own[0] : own[-1] + 1]
    kind = "doubled" if before == here else "added"
    return AlignmentEdit(kind, _unit(answer, own), (), _from_one(own))


def _is_stretch(chart: ChartContent, bars: Sequence[int], unit: str) -> bool:
    """Whether bars that are missing were not written, rather than left out one by one.

    So it is where the chart stops early or starts late, and in a long stretch that is no section.
    """
    if len(bars) == len(chart):
        return False
    at_an_end = bars[0] == 0 or bars[-1] == len(chart) - 1
    several = len({chart.section_of_bar[bar] for bar in bars}) > 1
    whole = bars[-1] == len(chart) - 1 or unit != "bar"
    if at_an_end and whole and len(bars) >= SHORT_STRETCH:
        return True
    return len(bars) >= LONG_STRETCH and (unit != "section" or several)


def _repeated(aligned: AlignedCharts, rows: range) -> AlignmentEdit:
    """Name a phrase or section that was written again."""
    song = [aligned.pairs[row][0] for row in range(rows[0])]
    end = 1 + max((bar for bar in song if bar is not None), default=-1)
    start = end - len(rows)
    chart = aligned.reference
    is_section = start in chart.section_boundaries and end in chart.section_boundaries
    unit = "section" if is_section and len(chart.sections) > 1 else "phrase"
    return AlignmentEdit("doubled", unit, (), _from_one(_answer_bars(aligned, rows)))


def _counted(aligned: AlignedCharts) -> list[AlignmentEdit]:
    """Name the stretches that are counted double or half."""
    runs: list[list[tuple[int, ...]]] = []
    for rows in aligned.counted:
        if runs and _is_double(aligned, runs[-1][-1]) == _is_double(aligned, rows):
            before = max(_answer_bars(aligned, runs[-1][-1]))
            here = min(_answer_bars(aligned, rows))
            if here <= before + 1 + MOST_BETWEEN:
                runs[-1].append(rows)
                continue
        runs.append([rows])
    found = []
    for run in _with_single_ones_joined(aligned, runs):
        inside = [row for one in run for row in one]
        song, own = _song_bars(aligned, inside), _answer_bars(aligned, inside)
        kind = "counted double" if _is_double(aligned, run[0]) else "counted half"
        unit = "song" if len(song) >= SHARE_OF_SONG * len(aligned.reference) else "section"
        found.append(AlignmentEdit(kind, unit, _from_one(sorted(song)), _from_one(sorted(own))))
    return found


def _with_single_ones_joined(
    aligned: AlignedCharts, runs: Sequence[list[tuple[int, ...]]]
) -> list[list[tuple[int, ...]]]:
    """Join what is counted double or half in one place alone to the nearest stretch of its kind.

    One place by itself says nothing of how a writer counts.
    """
    single = [run for run in runs if len(run) == 1]
    longer = [list(run) for run in runs if len(run) > 1]
    for run in single:
        is_double = _is_double(aligned, run[0])
        of_its_kind = [one for one in longer if _is_double(aligned, one[0]) == is_double]
        if not of_its_kind:
            longer.append(run)
            continue
        row = run[0][0]
        nearest = min(of_its_kind, key=lambda one: min(abs(row - each[0]) for each in one))
        nearest.extend(run)
    return longer


def _is_double(aligned: AlignedCharts, rows: Sequence[int]) -> bool:
    return len(_answer_bars(aligned, rows)) > len(_song_bars(aligned, rows))


def _split_or_merged(aligned: AlignedCharts, rows: Sequence[int]) -> AlignmentEdit:
    song, own = _song_bars(aligned, rows), _answer_bars(aligned, rows)
    kind = "split written as two bars" if len(song) == 1 else "two bars written as one"
    return AlignmentEdit(kind, "bar", _from_one(song), _from_one(own))


def _block_swap(aligned: AlignedCharts, swap: BlockSwap) -> AlignmentEdit:
    """Name two phrases or sections in the other order, and the bars that stand for theirs."""
    song = [*range(*swap.first), *range(*swap.second)]
    own = sorted(other for one, other in aligned.pairs if one in song and other is not None)
    return AlignmentEdit("swapped", swap.unit, _from_one(song), _from_one(own))


def _swapped_bars(aligned: AlignedCharts) -> list[AlignmentEdit]:
    """Find two bars next to each other that are written in the other order, just the same."""
    found: list[AlignmentEdit] = []
    ours, theirs = aligned.reference.contents, aligned.answer.contents
    scores = [row.score for row in aligned.rows]
    for row in range(1, len(scores)):
        if scores[row - 1] + scores[row] == 2.0:
            continue
        (a, x), (b, y) = aligned.pairs[row - 1], aligned.pairs[row]
        if a is None or x is None or b != a + 1 or y != x + 1:
            continue
        if ours[a].sonorities == ours[b].sonorities:
            continue
        crossed = ours[a] == theirs[y] and ours[b] == theirs[x] and ours[a] != ours[b]
        if crossed and (not found or found[-1].reference[-1] <= a):
            found.append(AlignmentEdit("swapped", "bar", (a + 1, b + 1), (x + 1, y + 1)))
    return found


def _swapped_runs(aligned: AlignedCharts, gaps: set[int]) -> list[tuple[AlignmentEdit, set[int]]]:
    """Find bars left out in one place and written, just the same, beyond their neighbours.

    Returns each edit with the rows of its gaps.
    """
    found = []
    for here, there in pairwise(_runs(aligned, gaps)):
        song = _song_bars(aligned, here) or _song_bars(aligned, there)
        own = _answer_bars(aligned, here) or _answer_bars(aligned, there)
        if not song or len(song) != len(own):
            continue
        if any(
            aligned.reference.contents[a] != aligned.answer.contents[b]
            for a, b in zip(song, own, strict=True)
        ):
            continue
        between = range(here[-1] + 1, there[0])
        other, own_other = _song_bars(aligned, between), _answer_bars(aligned, between)
        if not other or len(other) != len(own_other) or len(other) > MOST_PASSED * len(song):
            continue
        first, second = sorted((song, other))
        edit = AlignmentEdit(
            "swapped", "bar", _from_one(first + second), _from_one(sorted(own + own_other))
        )
        found.append((edit, {*here, *there}))
    return found
