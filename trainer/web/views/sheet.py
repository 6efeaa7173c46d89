"""A chart as it is drawn: sections at the left, phrases as lines, bars of chords."""

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

__all__ = [
    "BarDrawing",
    "ChordDrawing",
    "Sheet",
    "SheetLine",
    "SheetProblem",
    "SheetSection",
    "bar_drawings",
    "sheet_of_chart",
    "sheet_of_text",
]

ACCIDENTALS = ("", "♯", "♭")
QUALITIES = {"": "", "-": "−", "o": "°", "+": "+", "h": "ø"}
# What is drawn for an articulation is not what is typed for it.
ARTICULATION_HINTS = (("<", "A push is written p: 4p"), ("^", "A stop is written s: 4s"))


@dataclass(frozen=True, slots=True)
class ChordDrawing:
    """One chord as drawn. `beats` is how many strokes stand over it, 0 where the bar is divided
    evenly; `number` "" is no chord; `articulation` "" is none."""

    accidental: str
    number: str
    quality: str
    extension: str
    bass: str
    beats: int
    articulation: str


@dataclass(frozen=True, slots=True)
class BarDrawing:
    """One bar as drawn and as read aloud. `meter` and `key` are written before it, "" where they
    are as before; `problem` is the number of the first problem in it."""

    number: int
    chords: tuple[ChordDrawing, ...]
    meter: str
    key: str
    spoken: str
    is_unclear: bool = False
    problem: int | None = None


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One line of the sheet, its phrases parted by dots; `number` is its line of the text."""

    phrases: tuple[tuple[BarDrawing, ...], ...]
    number: int


@dataclass(frozen=True, slots=True)
class SheetSection:
    """A section: its name at the left and its lines."""

    name: str
    lines: tuple[SheetLine, ...]


@dataclass(frozen=True, slots=True)
class SheetProblem:
    """A problem of the text, numbered from 1 as on the sheet."""

    number: int
    line: int
    column: int
    found: str
    expected: str

    @property
    def hint(self) -> str:
        """How the articulation that was typed as it is drawn is written, "" if none was."""
        return next((hint for sign, hint in ARTICULATION_HINTS if self.found.endswith(sign)), "")


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole sheet."""

    sections: tuple[SheetSection, ...]
    problems: tuple[SheetProblem, ...] = ()


def sheet_of_chart(chart: Chart) -> Sheet:
    """A chart laid out as its text would be."""
    return sheet_of_text(parse_tolerant(format_chart(chart)))


def sheet_of_text(parsed: ParseResult) -> Sheet:
    """A text's chart, its lines as they were typed, with the problems where they are."""
    problems = tuple(
        SheetProblem(number, each.line, each.column, each.found, each.expected)
        for number, each in enumerate(parsed.problems, 1)
    )
    if parsed.chart is None:
        return Sheet((), problems)
    drawings = _drawings(parsed.chart, parsed.invalid_bars, _problem_by_bar(parsed, problems))
    placed = [
        (place, span, drawing)
        for (place, drawing), span in zip(drawings, parsed.bar_spans, strict=True)
    ]
    return Sheet(tuple(_sections(parsed.chart, placed)), problems)


def bar_drawings(chart: Chart, unclear: frozenset[int] = frozenset()) -> dict[int, BarDrawing]:
    """Every bar of a chart as drawn, by number; `unclear` are those that could not be read."""
    return {place.number: drawing for place, drawing in _drawings(chart, unclear, {})}


PlacedDrawing = tuple[PlacedBar, TextSpan, BarDrawing]


def _sections(chart: Chart, placed: list[PlacedDrawing]) -> Iterator[SheetSection]:
    for index, of_section in groupby(placed, key=lambda each: each[0].section):
        lines = tuple(
            SheetLine(
                tuple(
                    tuple(drawing for _, _, drawing in phrase)
                    for _, phrase in groupby(of_line, key=lambda each: each[0].phrase)
                ),
                number,
            )
            for number, of_line in groupby(of_section, key=lambda each: each[1].line)
        )
        yield SheetSection(chart.sections[index].name, lines)


def _problem_by_bar(parsed: ParseResult, problems: tuple[SheetProblem, ...]) -> dict[int, int]:
    """The number of the first problem inside each bar that has one."""
    found: dict[int, int] = {}
    # Both stand in order of place, so one search a bar is enough however many problems there are.
    places = [(problem.line, problem.column) for problem in problems]
    for number, (line, column, end_column) in enumerate(parsed.bar_spans, 1):
        first = bisect_left(places, (line, column))
        if first < len(places) and places[first] < (line, end_column):
            found[number] = problems[first].number
    return found


def _drawings(
    chart: Chart, unclear: frozenset[int], problems: dict[int, int]
) -> Iterator[tuple[PlacedBar, BarDrawing]]:
    for place in chart.placed_bars():
        chords, meter, key, spoken = _drawn(place.bar, chart.meter, chart.key, place.key_shift)
        number = place.number
        is_unclear, problem = number in unclear, problems.get(number)
        yield place, BarDrawing(number, chords, meter, key, spoken, is_unclear, problem)


@lru_cache(maxsize=4096)
def _drawn(
    bar: Bar, meter: Meter, key: Key, key_shift: int
) -> tuple[tuple[ChordDrawing, ...], str, str, str]:
    """What is the same wherever the bar stands: chords, meter, key, and how it is read aloud."""
    return (
        tuple(_chord(event, with_beats=not bar.is_even) for event in bar.events),
        "" if bar.meter == meter else str(bar.meter),
        str(key.shifted(key_shift)) if bar.key_change else "",
        say_bar(bar, meter),
    )


def _chord(event: Event, *, with_beats: bool) -> ChordDrawing:
    beats = int(event.beats) if with_beats else 0
    chord, articulation = event.chord, event.articulation.value if event.articulation else ""
    if chord is None:
        return ChordDrawing("", "", "", "", "", beats, articulation)
    return ChordDrawing(
        ACCIDENTALS[chord.alteration],
        str(chord.degree),
        QUALITIES[chord.quality],
        chord.extension,
        "" if chord.bass is None else _degree(chord.bass),
        beats,
        articulation,
    )


def _degree(degree: Degree) -> str:
    return f"{ACCIDENTALS[degree.alteration]}{degree.number}"
