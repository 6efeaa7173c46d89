"""A chart as it is drawn: sections at the left, phrases as lines, bars of signs."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby

from trainer.chart import (
    Bar,
    Chart,
    Degree,
    Event,
    Key,
    Meter,
    ParseResult,
    PlacedBar,
    TextSpan,
    format_chart,
    parse_tolerant,
    say_bar,
)

__all__ = ["Cell", "Line", "Part", "Sheet", "Sign", "Slip", "cells", "draft_sheet", "sheet_of"]

ACCIDENTALS = ("", "♯", "♭")
TOUCHES = (("<", "A push is written p: 4p"), ("^", "A stop is written s: 4s"))
QUALITIES = {"": "", "-": "−", "o": "°", "+": "+", "h": "ø"}


@dataclass(frozen=True, slots=True)
class Sign:
    """One chord as drawn. `strokes` is its beats where they must be written, else 0; `number` ""
    is no chord."""

    accidental: str
    number: str
    quality: str
    extension: str
    bass: str
    strokes: int
    mark: str


@dataclass(frozen=True, slots=True)
class Cell:
    """One bar as drawn and as said. `meter` and `key` are written before it, "" where they are as
    before; `slip` is the number of the first problem in it."""

    number: int
    signs: tuple[Sign, ...]
    meter: str
    key: str
    said: str
    unsure: bool = False
    slip: int | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the sheet, its phrases parted by dots; `typed` is the line of text it is."""

    phrases: tuple[tuple[Cell, ...], ...]
    typed: int


@dataclass(frozen=True, slots=True)
class Part:
    """A section: its name at the left and its lines."""

    name: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Slip:
    """A problem of the text, numbered from 1 as on the sheet."""

    number: int
    line: int
    column: int
    found: str
    expected: str

    @property
    def hint(self) -> str:
        """How the sheet's own sign for a touch is written, "" where that is not the matter."""
        return next((said for sign, said in TOUCHES if self.found.endswith(sign)), "")


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole sheet."""

    parts: tuple[Part, ...]
    slips: tuple[Slip, ...] = ()


def sheet_of(chart: Chart) -> Sheet:
    """A chart laid out as its text would be."""
    return draft_sheet(parse_tolerant(format_chart(chart)))


def draft_sheet(draft: ParseResult) -> Sheet:
    """A text's chart, its lines as they were typed, with the problems where they are."""
    slips = tuple(
        Slip(number, problem.line, problem.column, problem.found, problem.expected)
        for number, problem in enumerate(draft.problems, 1)
    )
    if draft.chart is None:
        return Sheet((), slips)
    drawn = [
        (place, text, cell)
        for (place, cell), text in zip(
            _walk(draft.chart, draft.invalid_bars, _slips_by_bar(draft, slips)),
            draft.bar_spans,
            strict=True,
        )
    ]
    return Sheet(tuple(_parts(draft.chart, drawn)), slips)


def cells(chart: Chart, unsure: frozenset[int] = frozenset()) -> dict[int, Cell]:
    """Every bar of a chart as drawn, by number."""
    return {place.number: cell for place, cell in _walk(chart, unsure, {})}


Drawn = tuple[PlacedBar, TextSpan, Cell]


def _parts(chart: Chart, drawn: list[Drawn]) -> Iterator[Part]:
    for index, inside in groupby(drawn, key=lambda each: each[0].section):
        lines = tuple(
            Line(
                tuple(
                    tuple(cell for _, _, cell in phrase)
                    for _, phrase in groupby(typed, key=lambda each: each[0].phrase)
                ),
                line,
            )
            for line, typed in groupby(inside, key=lambda each: each[1].line)
        )
        yield Part(chart.sections[index].name, lines)


def _slips_by_bar(draft: ParseResult, slips: tuple[Slip, ...]) -> dict[int, int]:
    """The first problem inside each bar that has one."""
    found: dict[int, int] = {}
    # Both stand in order of place, so one search a bar is enough however many problems there are.
    places = [(slip.line, slip.column) for slip in slips]
    for number, (line, column, end_column) in enumerate(draft.bar_spans, 1):
        first = bisect_left(places, (line, column))
        if first < len(places) and places[first] < (line, end_column):
            found[number] = slips[first].number
    return found


def _walk(
    chart: Chart, unsure: frozenset[int], slips: dict[int, int]
) -> Iterator[tuple[PlacedBar, Cell]]:
    for place in chart.placed_bars():
        signs, meter, key, said = _drawn(place.bar, chart.meter, chart.key, place.key_shift)
        number = place.number
        yield place, Cell(number, signs, meter, key, said, number in unsure, slips.get(number))


@lru_cache(maxsize=4096)
def _drawn(
    bar: Bar, meter: Meter, key: Key, key_shift: int
) -> tuple[tuple[Sign, ...], str, str, str]:
    """What is the same wherever the bar stands: its signs, meter, key, and how it is said."""
    written = not bar.is_even
    return (
        tuple(_sign(event, written) for event in bar.events),
        "" if bar.meter == meter else str(bar.meter),
        str(key.shifted(key_shift)) if bar.key_change else "",
        say_bar(bar, meter),
    )


def _sign(event: Event, written: bool) -> Sign:
    strokes = int(event.beats) if written else 0
    chord, mark = event.chord, event.articulation.value if event.articulation else ""
    if chord is None:
        return Sign("", "", "", "", "", strokes, mark)
    return Sign(
        ACCIDENTALS[chord.alteration],
        str(chord.degree),
        QUALITIES[chord.quality],
        chord.extension,
        "" if chord.bass is None else _degree(chord.bass),
        strokes,
        mark,
    )


def _degree(degree: Degree) -> str:
    return f"{ACCIDENTALS[degree.alteration]}{degree.number}"
