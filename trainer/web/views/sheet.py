"""A chart as it is drawn: sections at the left, phrases as lines, bars of chords."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass, replace
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
    Section,
    TextSpan,
    format_chart,
    parse_tolerant,
    say_bar,
    shape_keys,
    shape_letters,
)
from trainer.chart.format import format_count_off
from trainer.chart.hits import hit_strip
from trainer.web.views.messages import Messages, Notes, place_messages

__all__ = [
    "BarDrawing",
    "ChordDrawing",
    "Sheet",
    "SheetBar",
    "SheetLine",
    "SheetSection",
    "bar_drawings",
    "sheet_of_chart",
    "sheet_of_text",
]

NO_NOTES = Notes()
ACCIDENTALS = ("", "♯", "♭")
PRINTED = str.maketrans({"#": "♯", "b": "♭", "-": "−"})
QUALITIES = {"": "", "-": "−", "o": "°", "+": "+", "ø": "ø"}


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
    """One bar as drawn and as read aloud. `meter` and `key` are written before it, "" if they
    are as before; `is_unclear` says that it could not be read as it is typed, `is_open` that it is
    not known yet, `fades` that the sign for a fade stands before it. `words` are the notes for the
    players over it, and `strip` the row of its hits, as `hit_strip` gives it."""

    number: int
    chords: tuple[ChordDrawing, ...]
    meter: str
    key: str
    spoken: str
    is_unclear: bool = False
    is_open: bool = False
    fades: bool = False
    words: tuple[str, ...] = ()
    strip: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SheetBar:
    """A bar in its place: its drawing, where it is typed, and what is to be said of it."""

    drawing: BarDrawing
    span: TextSpan
    notes: Notes = NO_NOTES


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One line of the sheet, its phrases parted by dots; `number` is its line of the text.

    `notes` are those of the line that are about no bar. A line of notes alone has no phrases.
    `comments` are what the chart itself says beside the line, for people only.
    """

    phrases: tuple[tuple[SheetBar, ...], ...]
    number: int
    notes: Notes = NO_NOTES
    comments: tuple[str, ...] = ()

    @property
    def is_crowded(self) -> bool:
        """Whether more than one of its bars has something said of it."""
        return sum(bool(bar.notes) for phrase in self.phrases for bar in phrase) > 1


@dataclass(frozen=True, slots=True)
class SheetSection:
    """A section: its name at the left with the words for the players, comments and its lines."""

    name: str
    lines: tuple[SheetLine, ...]
    words: tuple[str, ...] = ()
    comments: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole sheet.

    `before` are the lines of notes that stand before the first section; `open_count` is how many
    problems and questions the text has, shown on the sheet or not, `gap_count` how many open bars.
    `top` is what the chart says of the guitar and the count-off, and `comments` those of the song.
    """

    sections: tuple[SheetSection, ...]
    before: tuple[SheetLine, ...] = ()
    open_count: int = 0
    gap_count: int = 0
    top: tuple[str, ...] = ()
    comments: tuple[str, ...] = ()


def sheet_of_chart(chart: Chart) -> Sheet:
    """A chart laid out as its text would be."""
    return sheet_of_text(parse_tolerant(format_chart(chart)))


def sheet_of_text(parsed: ParseResult) -> Sheet:
    """A text's chart, its lines as they were typed, with what is to be said of it where it is."""
    messages = place_messages(parsed)
    sections = list(_sections(parsed.chart, parsed, messages)) if parsed.chart is not None else []
    drawn = {line.number for section in sections for line in section.lines}
    alone = [
        SheetLine((), number, notes)
        for number, notes in sorted(messages.by_line.items())
        if number not in drawn
    ]
    starts = [section.lines[0].number for section in sections]
    before = tuple(line for line in alone if not starts or line.number < starts[0])
    for line in alone[len(before) :]:
        index = bisect_right(starts, line.number) - 1
        lines = sorted((*sections[index].lines, line), key=lambda each: each.number)
        sections[index] = replace(sections[index], lines=tuple(lines))
    chart = parsed.chart
    top, comments = ((), ()) if chart is None else (tuple(_top(chart)), chart.comments)
    return Sheet(tuple(sections), before, messages.count, len(parsed.gaps), top, comments)


def _top(chart: Chart) -> Iterator[str]:
    """What stands over the sheet: the guitar's shapes, and a count-off that isn't the usual one."""
    if chart.capo == 0:
        yield "Guitar: no capo"
    elif chart.capo is not None:
        shapes = ", then ".join(_printed(str(key)) for key in shape_keys(chart))
        chords = ", ".join(
            f"{_printed(number)} is {_printed(letter)}" for number, letter in shape_letters(chart)
        )
        yield f"Guitar: capo {chart.capo}, shapes of {shapes} ({chords})"
    if chart.count_off != 1:
        yield f"Count-off: {format_count_off(chart.count_off)}"


def _printed(name: str) -> str:
    """A key, a number or a letter with printed signs; the first character is no flat."""
    return name[:1].replace("b", "♭") + name[1:].translate(PRINTED)


def bar_drawings(chart: Chart, unclear: frozenset[int] = frozenset()) -> dict[int, BarDrawing]:
    """Every bar of a chart as drawn, by number; `unclear` are those that could not be read."""
    return {place.number: drawing for place, drawing in _drawings(chart, unclear)}


def _sections(chart: Chart, parsed: ParseResult, messages: Messages) -> Iterator[SheetSection]:
    bars = [
        (place, SheetBar(drawing, span, messages.by_bar.get(place.number, NO_NOTES)))
        for (place, drawing), span in zip(
            _drawings(chart, parsed.invalid_bars | messages.unclear), parsed.bar_spans, strict=True
        )
    ]
    for index, of_section in groupby(bars, key=lambda each: each[0].section):
        section = chart.sections[index]
        lines = tuple(
            SheetLine(
                tuple(
                    tuple(bar for _, bar in phrase)
                    for _, phrase in groupby(listed, key=lambda each: each[0].phrase)
                ),
                number,
                messages.by_line.get(number, NO_NOTES),
                _comments_after(section, listed),
            )
            for number, listed in (
                (number, list(of_line))
                for number, of_line in groupby(of_section, key=lambda each: each[1].span.line)
            )
        )
        yield SheetSection(section.name, lines, section.notes, section.comments)


def _comments_after(section: Section, of_line: list[tuple[PlacedBar, SheetBar]]) -> tuple[str, ...]:
    """The comments of the phrases that end on a line."""
    return tuple(
        comment
        for place, _ in of_line
        if place.index == len(section.phrases[place.phrase].bars) - 1
        for comment in section.phrases[place.phrase].comments
    )


def _drawings(chart: Chart, unclear: frozenset[int]) -> Iterator[tuple[PlacedBar, BarDrawing]]:
    for place in chart.placed_bars():
        chords, meter, key, spoken = _drawn(place.bar, chart.meter, chart.key, place.key_shift)
        number, bar = place.number, place.bar
        is_unclear = number in unclear
        yield (
            place,
            BarDrawing(
                number,
                chords,
                meter,
                key,
                spoken,
                is_unclear,
                bar.is_open,
                bar.fades,
                bar.notes,
                hit_strip(bar.hits, bar.meter),
            ),
        )


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
