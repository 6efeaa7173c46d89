"""Bar lines, commas and slashes for beats: what they say about the bars of a line.

Between bar lines stands one bar, or a split bar of several chords, or a phrase of single bars; the
line as a whole shows which is meant, or else a question is asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from trainer.chart.meter import Meter
from trainer.chart.model import MOST_EVENTS
from trainer.chart.typed.pieces import Kind, Piece
from trainer.chart.typed.question import Choice, Doubt
from trainer.chart.typed.units import Unit, join, split

__all__ = [
    "bars_of_beats",
    "fill_beats",
    "group_ticks",
    "settle_bar_lines",
    "settle_commas",
    "settle_dots",
]

BOUNDARIES = (Kind.LINE, Kind.DOUBLE, Kind.END)
LINES_ASKED = "Is each chord a bar of its own, or do two bar lines hold one bar?"


def settle_bar_lines(
    units: list[Unit], meter: Meter, hold_bars: bool | None, *, may_ask: bool
) -> tuple[list[Unit], Doubt | None]:
    """Put bars and phrase ends in place of bar lines.

    Chords between two bar lines share a bar where one or two stand there in most places. Three or
    more everywhere may be bars, too: `hold_bars` is whether two bar lines hold one bar then, else a
    phrase. If it is None, that is asked about, and the bars are single meanwhile.
    """
    if not any(unit.kind is Kind.LINE for unit in units):
        groups = split(units, Kind.DOUBLE, Kind.END)
        return _assemble(units, groups, ends=(Kind.DOUBLE, Kind.END)), None
    cells = [_beats_of_cell(cell, meter) for cell in split(units, *BOUNDARIES)]
    sizes = [len([unit for unit in cell if unit.is_bar]) for cell in cells]
    full = [size for size in sizes if size]
    if all(size <= 1 for size in sizes):
        return _assemble(units, cells, ends=(Kind.DOUBLE, Kind.END)), None
    joined = [_joined(cell, meter) for cell in cells]
    phrases = _assemble(units, cells, ends=BOUNDARIES)
    possible = [cell for cell in joined if cell is not None]
    if len(possible) < len(cells):
        return phrases, None
    bars = _assemble(units, possible, ends=(Kind.DOUBLE, Kind.END))
    small = sum(size < 3 for size in full) * 2 - len(full)
    # As many cells of two chords as of four or more may be short phrases.
    is_even = small == 0 and min(full) == 2 and max(full) > 3
    if hold_bars or (min(full) < 3 and small >= 0 and not is_even):
        return bars, None
    if hold_bars is False or not may_ask:
        return phrases, None
    choices = (
        Choice("each chord is a bar", "", "bar lines: phrases"),
        Choice("two bar lines hold one bar", "", "bar lines: bars"),
    )
    return phrases, Doubt(units[0].start, units[-1].end, LINES_ASKED, choices, LINES_ASKED)


def _assemble(
    units: Sequence[Unit], cells: Sequence[list[Unit]], ends: Sequence[Kind]
) -> list[Unit]:
    """The cells one after another, with a phrase end where a boundary of a kind in `ends` was."""
    boundaries = [unit for unit in units if unit.kind in BOUNDARIES]
    last = max(number for number, cell in enumerate(cells) if cell or number == 0)
    found: list[Unit] = []
    for number, cell in enumerate(cells):
        found += cell
        boundary = boundaries[number] if number < len(boundaries) else None
        if boundary is None or boundary.kind not in ends:
            continue
        is_typed = boundary.kind is Kind.END
        if is_typed or (found and found[-1].kind is not Kind.END and number < last):
            place = Piece(Kind.END, ".", boundary.start, boundary.end)
            found.append(Unit(Kind.END, [place]))
    return found


def _text(units: Sequence[Unit]) -> str:
    return " ".join(unit.whole_text for unit in units)


def _joined(cell: list[Unit], meter: Meter) -> list[Unit] | None:
    """A cell as one split bar; None if it cannot be one."""
    if len(cell) < 2:
        return cell
    bar = join(cell) if len(cell) <= max(MOST_EVENTS, meter.beats) else None
    return None if bar is None else [bar]


def _beats_of_cell(cell: list[Unit], meter: Meter) -> list[Unit]:
    """A cell with slashes or dashes for beats as one bar, where they fill it."""
    if not cell or cell[0].chord is None or len(cell) != cell[0].beats(meter):
        return cell
    beats = [_as_beat(unit) for unit in cell]
    if not any(unit.kind is Kind.BEAT for unit in beats):
        return cell
    return bars_of_beats(beats, meter) or cell


def _as_beat(unit: Unit) -> Unit:
    is_dash = unit.kind is Kind.AGAIN and unit.pieces[0].text == "-"
    return Unit(Kind.BEAT, unit.pieces, unit.before) if is_dash else unit


def fill_beats(units: list[Unit], meter: Meter) -> list[Unit]:
    """Turn chords with slashes for further beats into bars, phrase by phrase.

    A phrase is left alone unless its beats fill bars exactly and no slash could be meant for a
    bass, as it could in 5 / 7.
    """
    if not any(unit.kind is Kind.BEAT for unit in units):
        return units
    ends = [unit for unit in units if unit.kind is Kind.END]
    found: list[Unit] = []
    for number, phrase in enumerate(split(units, Kind.END)):
        found += ends[number - 1 : number] if number else []
        bars = None if _has_spaced_slash(phrase) else bars_of_beats(phrase, meter)
        found += bars or phrase
    return found


def _has_spaced_slash(phrase: Sequence[Unit]) -> bool:
    """Whether a slash stands alone between two chords, the second without slashes."""
    kinds = [unit.kind for unit in phrase]
    chord, beat = Kind.CHORD, Kind.BEAT
    return any(
        kinds[at : at + 3] == [chord, beat, chord] and kinds[at + 3 : at + 4] != [beat]
        for at in range(len(kinds))
    )


def bars_of_beats(units: Sequence[Unit], meter: Meter) -> list[Unit] | None:
    """Bars of chords that last one beat and one more for each slash.

    None if they do not fill their bars.
    """
    if not any(unit.kind is Kind.BEAT for unit in units):
        return None
    bars: list[Unit] = []
    bar: list[tuple[Unit, int]] = []
    for unit in units:
        if unit.kind is Kind.BEAT and bar:
            bar[-1] = (bar[-1][0], bar[-1][1] + 1)
        elif unit.chord is not None and unit.chord.ticks == 0:
            bar.append((unit, 1))
        else:
            return None
        missing = bar[0][0].beats(meter) - sum(lasting for _, lasting in bar)
        if missing < 0:
            return None
        if missing == 0:
            bars += _bar_of_beats(bar)
            bar = []
    return None if bar else bars


def _bar_of_beats(bar: Sequence[tuple[Unit, int]]) -> list[Unit]:
    """One bar of chords with their beats; those before a directive within it stay apart."""
    if len(bar) == 1:
        return [bar[0][0]]
    ticked = [
        Unit(Kind.CHORD, [_with_ticks(unit.chord, lasting)], unit.before)
        for unit, lasting in bar
        if unit.chord is not None
    ]
    joined = join(ticked)
    return ticked if joined is None else [joined]


def _with_ticks(chord: Piece, beats: int) -> Piece:
    """A chord with beat ticks, before its articulation."""
    letter = chord.text[-1] if chord.text[-1] in "dpc" else ""
    text = chord.text.removesuffix(letter) + "'" * beats + letter
    return chord._replace(text=text, ticks=beats)


def group_ticks(units: list[Unit], meter: Meter) -> list[Unit]:
    """Join chords with ticks that stand without brackets, where together they fill a bar."""
    found: list[Unit] = []
    at = 0
    while at < len(units):
        found_bar = _ticked_bar(units, at, units[at].beats(meter))
        found += units[at : at + 1] if found_bar is None else [found_bar[0]]
        at += 1 if found_bar is None else found_bar[1]
    return found


def _ticked_bar(units: Sequence[Unit], at: int, beats: int) -> tuple[Unit, int] | None:
    """The bar that begins at a unit with ticks, and how many units it takes."""
    total = 0
    for end in range(at, len(units)):
        chord = units[end].chord if len(units[end].pieces) == 1 else None
        if chord is None or not chord.ticks:
            return None
        total += chord.ticks
        if total >= beats:
            break
    if total != beats or end == at:
        return None
    bar = join(units[at : end + 1])
    return None if bar is None else (bar, end + 1 - at)


def settle_commas(units: list[Unit]) -> list[Unit]:
    """Leave commas out where one stands after every bar; otherwise a comma ends a phrase."""
    if not any(unit.kind is Kind.COMMA for unit in units):
        return units
    groups = split(units, Kind.COMMA, Kind.BEAT, *BOUNDARIES)
    apart = all(len([unit for unit in group if unit.is_bar]) <= 1 for group in groups)
    last = max((number for number, unit in enumerate(units) if unit.is_bar), default=0)
    found: list[Unit] = []
    for number, unit in enumerate(units):
        if unit.kind is not Kind.COMMA:
            found.append(unit)
        elif not apart and found and found[-1].is_bar and number < last:
            found.append(Unit(Kind.END, [unit.pieces[0]._replace(kind=Kind.END, text=".")]))
    return found


def settle_dots(units: list[Unit], meter: Meter) -> list[Unit]:
    """Leave dots out that count the further beats of every bar, as in 1 . . . 4 . . ., and those
    that only trail off at the end of the line."""
    runs = [list(run) for _, run in groupby(units, key=lambda unit: unit.kind is Kind.END)]
    dots = [run for run in runs if run[0].kind is Kind.END]
    if all(len(run) == 1 for run in dots):
        return units
    bars = [unit for unit in units if unit.is_bar]
    counts_beats = len(dots) == len(bars) and all(len(run) == meter.beats - 1 for run in dots)
    trails_off = len(dots[-1]) > 1 and dots[-1] is runs[-1] and len(runs) > 1
    if counts_beats or (trails_off and all(len(run) == 1 for run in dots[:-1])):
        return [
            unit for run in runs for unit in run if run[0].kind is not Kind.END or len(run) == 1
        ]
    return units
