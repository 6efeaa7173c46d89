"""What happened to whole bars: left out, too many, doubled, swapped, split or joined.

Each is named once. Bars count from 0 inside this module's arguments and from 1 in what it returns.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from trainer.grade.report import Happening
from trainer.grade.scoring import Scored
from trainer.grade.sheet import Shape, Sheet
from trainer.grade.tones import Sound

__all__ = ["find_happenings"]

Run = list[int]


def find_happenings(scored: Scored) -> tuple[Happening, ...]:
    """Everything that happened to whole bars, in the order of the song."""
    swaps, left = _swapped_in_place(scored), set(_gap_rows(scored))
    found = list(swaps)
    if swaps:
        inside = {bar for swap in swaps for bar in swap.reference}
        beside = {bar for swap in swaps for bar in swap.answer}
        left -= {
            row
            for row in left
            if _number(scored.pairs[row][0]) in inside or _number(scored.pairs[row][1]) in beside
        }
    for find in (_split_or_joined, _swapped_runs):
        for happening, used in find(scored, left):
            if used <= left:
                found.append(happening)
                left -= used
    found += [_plain(scored, run) for run in _runs(scored, left)]
    return tuple(sorted(found, key=lambda one: (one.reference or one.answer, one.kind)))


def _number(bar: int | None) -> int | None:
    return None if bar is None else bar + 1


def _numbers(bars: Sequence[int]) -> tuple[int, ...]:
    return tuple(bar + 1 for bar in bars)


def _gap_rows(scored: Scored) -> list[int]:
    return [row for row, comparison in enumerate(scored.comparisons) if comparison is None]


def _runs(scored: Scored, left: set[int]) -> list[Run]:
    """Rows next to each other with a gap on the same side."""
    runs: list[Run] = []
    for row in sorted(left):
        side = scored.pairs[row][0] is None
        if runs and runs[-1][-1] == row - 1 and (scored.pairs[row - 1][0] is None) == side:
            runs[-1].append(row)
        else:
            runs.append([row])
    return runs


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


def _same_sounds(one: Sequence[Sound], other: Sequence[Sound]) -> bool:
    return len(one) == len(other) and all(a.same_as(b) for a, b in zip(one, other, strict=True))


def _sounds(sheet: Sheet, bars: Sequence[int]) -> list[Sound]:
    return [sound for bar in bars for sound in sheet.shapes[bar].sounds]


def _split_or_joined(scored: Scored, left: set[int]) -> list[tuple[Happening, set[int]]]:
    """A gap beside a pair, where two bars of one side hold just the chords of one of the other."""
    found = []
    taken: set[int] = set()
    for row in sorted(left):
        for near in (row - 1, row + 1):
            rows = sorted((row, near))
            if not 0 <= near < len(scored.pairs) or near in left or taken & set(rows):
                continue
            song, own = _song_bars(scored, rows), _own_bars(scored, rows)
            if {len(song), len(own)} != {1, 2}:
                continue
            ours, theirs = _sounds(scored.reference, song), _sounds(scored.answer, own)
            if len(ours) < 2 or ours[0].same_as(ours[1]) or not _same_sounds(ours, theirs):
                continue
            one_split = len(song) == 1
            kind = "split written as two bars" if one_split else "two bars written as one"
            found.append((Happening(kind, "bar", _numbers(song), _numbers(own)), {row}))
            taken |= set(rows)
            break
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
            "swapped",
            _swap_unit(scored.reference, first, second),
            _numbers(first + second),
            _numbers(sorted(own + own_other)),
        )
        found.append((happening, {*here, *there}))
    return found


def _swap_unit(sheet: Sheet, first: Run, second: Run) -> str:
    units = {_unit(sheet, first), _unit(sheet, second)}
    return next(unit for unit in ("bar", "phrase", "section") if unit in units)


def _swapped_in_place(scored: Scored) -> list[Happening]:
    """Two neighbouring sections or phrases written in the other order, where it shows.

    The alignment may pair such bars one by one instead of leaving gaps. It must bring the two
    stretches to each other: a song has the same verse and chorus in many places.
    """
    wrong = {bar for row in scored.rows if row.score < 1 and (bar := row.reference) is not None}
    found: list[Happening] = []
    if not wrong:
        return found
    ours, theirs = scored.reference, scored.answer
    meeting = set(_meeting_places(scored))
    taken: set[int] = set()
    for unit, limits, written in (
        ("section", ours.section_limits, _neighbours(theirs, theirs.section_limits)),
        ("phrase", ours.limits, _neighbours(theirs, theirs.limits)),
    ):
        for start, middle, end in zip(limits, limits[1:], limits[2:], strict=False):
            first, second = ours.shapes[start:middle], ours.shapes[middle:end]
            places = written.get((second, first), ())
            bars = set(range(start + 1, end + 1))
            length = end - start
            near = [at for at in places if {(start, at), (end, at + length)} <= meeting]
            if first == second or not near or bars & taken or not bars & wrong:
                continue
            own = range(near[0], near[0] + length)
            found.append(Happening("swapped", unit, tuple(sorted(bars)), _numbers(own)))
            taken |= bars
    return found


def _meeting_places(scored: Scored) -> Iterator[tuple[int, int]]:
    """How many bars of either side come before each place between two rows."""
    i = j = 0
    yield i, j
    for one, other in scored.pairs:
        i += one is not None
        j += other is not None
        yield i, j


def _neighbours(
    sheet: Sheet, limits: Sequence[int]
) -> dict[tuple[tuple[Shape, ...], tuple[Shape, ...]], list[int]]:
    """Where each pair of neighbouring stretches, by content, begins."""
    found: dict[tuple[tuple[Shape, ...], tuple[Shape, ...]], list[int]] = {}
    for start, middle, end in zip(limits, limits[1:], limits[2:], strict=False):
        pair = sheet.shapes[start:middle], sheet.shapes[middle:end]
        found.setdefault(pair, []).append(start)
    return found
