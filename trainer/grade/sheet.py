"""A chart laid out for comparison: bars in a row, equal bars known as equal.

Bars are looked up by their content in a bounded table, so that a bar that many charts write is
analysed once, and pairs of bars can be compared once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import lcm
from typing import Any

from trainer.chart.model import Articulation, Bar, Chart, Section
from trainer.grade.tones import Sound, sound_of

__all__ = ["Shape", "Sheet", "folded", "lay_out", "lay_out_again", "moved", "shape_of"]

MOST_SHAPES = 1 << 14


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """A bar's content. Places count in `grid` equal steps to the bar.

    `starts` and `sounds` are as long as each other; a chord written again is one sound, since
    rewriting a chord that goes on changes nothing. `heard` are bass and notes of the sounds, to be
    told apart by; `changes` the places inside the bar where the sound changes; `marks` (place,
    articulation) pairs.
    """

    bar: Bar
    grid: int
    starts: tuple[int, ...]
    sounds: tuple[Sound, ...]
    heard: tuple[tuple[int, int], ...]
    changes: tuple[int, ...]
    marks: tuple[tuple[int, Articulation], ...]
    key_change: int

    @property
    def meter(self) -> tuple[int, int]:
        """Beats and unit of the bar's meter."""
        return self.bar.meter.beats, self.bar.meter.unit


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """A chart as rows of equal length, one entry a bar, counted from 0.

    `limits` are the bars that a phrase ends before, the first (0) and last (number of bars)
    included; `section_limits` those that a section ends before. `parts` are the sections, `kinds`
    what they are.
    """

    bars: tuple[Bar, ...]
    shapes: tuple[Shape, ...]
    phrases: tuple[int, ...]
    sections: tuple[int, ...]
    shifts: tuple[int, ...]
    limits: tuple[int, ...]
    section_limits: tuple[int, ...]
    parts: tuple[Section, ...]
    kinds: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.bars)


_shapes: dict[tuple[Any, ...], Shape] = {}


def shape_of(bar: Bar) -> Shape:
    """The shape of a bar; equal bars give the same object while it stays in the table."""
    key: list[Any] = [bar.meter.beats, bar.meter.unit, bar.key_change]
    for event in bar.events:
        chord, beats = event.chord, event.beats
        if chord is None:
            key += (beats.numerator, beats.denominator)
        else:
            key += (
                chord.degree,
                chord.alteration,
                chord.quality,
                chord.extension,
                chord.bass,
                beats.numerator,
                beats.denominator,
                event.articulation,
            )
    found = _shapes.get(look := tuple(key))
    if found is None:
        if len(_shapes) >= MOST_SHAPES:
            _shapes.clear()
        found = _shapes[look] = _analyse(bar, 0, bar.key_change)
    return found


def _analyse(bar: Bar, shift: int, key_change: int) -> Shape:
    places = [start / bar.meter.beats for start in bar.starts()]
    grid = lcm(*(place.denominator for place in places))
    starts: list[int] = []
    sounds: list[Sound] = []
    changes: list[int] = []
    marks: list[tuple[int, Articulation]] = []
    for place, event in zip(places, bar.events, strict=True):
        at, sound = int(place * grid), sound_of(event.chord, shift)
        if sounds and not sound.same_as(sounds[-1]):
            changes.append(at)
        if not sounds or changes[-1:] == [at] or sound.root != sounds[-1].root:
            starts.append(at)
            sounds.append(sound)
        if event.articulation is not None:
            marks.append((at, event.articulation))
    names = [(sound.bass, sound.sounding) for sound in sounds]
    heard = tuple([name for k, name in enumerate(names) if not k or name != names[k - 1]])
    return Shape(
        bar, grid, tuple(starts), tuple(sounds), heard, tuple(changes), tuple(marks), key_change
    )


@lru_cache(maxsize=MOST_SHAPES)
def _moved_shape(shape: Shape, shift: int, key_change: int) -> Shape:
    return _analyse(shape.bar, shift, key_change)


_last: list[tuple[Chart, Sheet]] = []


def lay_out_again(chart: Chart) -> Sheet:
    """Lay a chart out, or give back the last one: a class answers one song many times."""
    for known, sheet in _last:
        if known is chart:
            return sheet
    sheet = lay_out(chart)
    _last[:] = [(chart, sheet)]
    return sheet


def lay_out(chart: Chart) -> Sheet:
    """Lay a chart out, in the order it is written."""
    bars: list[Bar] = []
    phrases: list[int] = []
    sections: list[int] = []
    limits, section_limits = [0], [0]
    for number, section in enumerate(chart.sections):
        for phrase in section.phrases:
            bars += phrase.bars
            phrases += [len(limits) - 1] * len(phrase.bars)
            sections += [number] * len(phrase.bars)
            limits.append(len(bars))
        section_limits.append(len(bars))
    shift, shifts = 0, []
    for bar in bars:
        shift += bar.key_change
        shifts.append(shift)
    return Sheet(
        tuple(bars),
        tuple(map(shape_of, bars)),
        tuple(phrases),
        tuple(sections),
        tuple(shifts),
        tuple(limits),
        tuple(section_limits),
        chart.sections,
        tuple([section.kind for section in chart.sections]),
    )


def _with_shapes(sheet: Sheet, shapes: tuple[Shape, ...]) -> Sheet:
    return Sheet(
        sheet.bars,
        shapes,
        sheet.phrases,
        sheet.sections,
        sheet.shifts,
        sheet.limits,
        sheet.section_limits,
        sheet.parts,
        sheet.kinds,
    )


def moved(sheet: Sheet, shift: int) -> Sheet:
    """The sheet with every number counted `shift` semitones higher."""
    shift %= 12
    return _with_shapes(
        sheet, tuple(_moved_shape(shape, shift, shape.key_change) for shape in sheet.shapes)
    )


def folded(sheet: Sheet) -> Sheet:
    """The sheet with every number counted in the first key and no key change written."""
    pairs = zip(sheet.shapes, sheet.shifts, strict=True)
    return _with_shapes(sheet, tuple(_moved_shape(shape, shift % 12, 0) for shape, shift in pairs))
