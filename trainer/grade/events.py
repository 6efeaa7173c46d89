"""What happened to whole bars: left out, too many, doubled, swapped, split or joined.

Each is named once; only the phrases or sections of a swap may hold other happenings. Bars count
from 0 inside this module's arguments and from 1 in what it returns.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from trainer.grade.alignment import Pair
from trainer.grade.report import Happening
from trainer.grade.scoring import Scored
from trainer.grade.sheet import Sheet

if TYPE_CHECKING:
    from trainer.grade.swaps import Swap

__all__ = ["find_happenings"]

Run = list[int]


def find_happenings(scored: Scored) -> tuple[Happening, ...]:
    """Everything that happened to whole bars, in the order of the song."""
    found = [_swap(scored, swap) for swap in scored.swaps]
    found += [_join(scored, rows) for rows in scored.joins]
    found += _swapped_bars(scored)
    left = set(_gap_rows(scored)) - {row for rows in scored.joins for row in rows}
    for happening, used in _swapped_runs(scored, left):
        if used <= left:
            found.append(happening)
            left -= used
    found += [_plain(scored, run) for run in _runs(scored, left)]
    return tuple(sorted(found, key=lambda one: (one.reference or one.answer, one.kind)))


def _numbers(bars: Sequence[int]) -> tuple[int, ...]:
    return tuple(bar + 1 for bar in bars)


def _gap_rows(scored: Scored) -> list[int]:
    return [row for row, comparison in enumerate(scored.comparisons) if comparison is None]


def _runs(scored: Scored, left: set[int]) -> list[Run]:
    """Rows next to each other with a gap on the same side, their bars next to each other too."""
    runs: list[Run] = []
    for row in sorted(left):
        before, here = scored.pairs[row - 1], scored.pairs[row]
        if runs and runs[-1][-1] == row - 1 and _follows(before, here):
            runs[-1].append(row)
        else:
            runs.append([row])
    return runs


def _follows(before: Pair, here: Pair) -> bool:
    if before[0] is None or here[0] is None:
        return before[0] is here[0]
    return here[0] == before[0] + 1


def _song_bars(scored: Scored, rows: Sequence[int]) -> Run:
    return [bar for row in rows if (bar := scored.pairs[row][0]) is not None]


def _own_bars(scored: Scored, rows: Sequence[int]) -> Run:
    return [bar for row in rows if (bar := scored.pairs[row][1]) is not None]


def _unit(sheet: Sheet, bars: Run) -> str:
    """Whether a run of bars is whole sections, whole phrases or bars of a phrase."""
    first, end = bars[0], bars[-1] + 1
    if first in sheet.section_limits and end in sheet.section_limits and len(sheet.parts) > 1:
        return "section"
    if first in sheet.limits and end in sheet.limits and len(sheet.limits) > 2:
        return "phrase"
    return "bar"


def _plain(scored: Scored, run: Run) -> Happening:
    song, own = _song_bars(scored, run), _own_bars(scored, run)
    if song:
        return Happening("left out", _unit(scored.reference, song), _numbers(song), ())
    sheet, size = scored.answer, len(own)
    before = sheet.shapes[max(0, own[0] - size) : own[0]]
    here = sheet.shapes[own[0] : own[-1] + 1]
    kind = "doubled" if before == here else "added"
    return Happening(kind, _unit(sheet, own), (), _numbers(own))


def _join(scored: Scored, rows: Sequence[int]) -> Happening:
    song, own = _song_bars(scored, rows), _own_bars(scored, rows)
    kind = "split written as two bars" if len(song) == 1 else "two bars written as one"
    return Happening(kind, "bar", _numbers(song), _numbers(own))


def _swap(scored: Scored, swap: Swap) -> Happening:
    """Two phrases or sections in the other order, and what stands for their bars."""
    song = [*range(*swap.first), *range(*swap.second)]
    own = sorted(other for one, other in scored.pairs if one in song and other is not None)
    return Happening("swapped", swap.unit, _numbers(song), _numbers(own))


def _swapped_bars(scored: Scored) -> list[Happening]:
    """Two bars next to each other that stand for each other, just the same."""
    found: list[Happening] = []
    ours, theirs = scored.reference.shapes, scored.answer.shapes
    for row in range(1, len(scored.pairs)):
        (a, x), (b, y) = scored.pairs[row - 1], scored.pairs[row]
        if a is None or x is None or b != a + 1 or y != x + 1:
            continue
        crossed = ours[a] is theirs[y] and ours[b] is theirs[x] and ours[a] is not ours[b]
        lost = scored.rows[row - 1].score + scored.rows[row].score < 2.0
        if crossed and lost and (not found or found[-1].reference[-1] <= a):
            found.append(Happening("swapped", "bar", (a + 1, b + 1), (x + 1, y + 1)))
    return found


def _swapped_runs(scored: Scored, left: set[int]) -> list[tuple[Happening, set[int]]]:
    """Bars left out in one place and written, just the same, the other side of what they adjoin."""
    found = []
    runs = _runs(scored, left)
    for here, there in pairwise(runs):
        song = _song_bars(scored, here) or _song_bars(scored, there)
        own = _own_bars(scored, here) or _own_bars(scored, there)
        if not song or len(song) != len(own):
            continue
        if any(
            scored.reference.shapes[a] is not scored.answer.shapes[b]
            for a, b in zip(song, own, strict=True)
        ):
            continue
        between = range(here[-1] + 1, there[0])
        other = _song_bars(scored, between)
        own_other = _own_bars(scored, between)
        if not other or len(other) != len(own_other) or len(other) > 2 * len(song):
            continue
        first, second = sorted((song, other))
        happening = Happening(
            "swapped", "bar", _numbers(first + second), _numbers(sorted(own + own_other))
        )
        found.append((happening, {*here, *there}))
    return found
