"""What is done to a generated song before it is an exercise: cut to two sections, or counted from
another 1."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from trainer.chart import Bar, Chart, Chord, Degree, Key, Phrase, Section, excerpt
from trainer.chart.keys import USUAL_MAJOR

__all__ = ["RELATIVE_MAJOR", "TWO_SECTIONS", "counted_from_relative_major", "section_pairs"]

# The size of an exercise of two sections, and the way of counting minor songs as in their relative
# major.
TWO_SECTIONS = "two sections"
RELATIVE_MAJOR = "relative major"
SUNG = ("verse", "pre-chorus", "chorus", "bridge")
# How far the minor 1 lies above the 1 of its relative major, in semitones.
MINOR_HOME = 9
# The degrees by semitones above the 1.
DEGREES = (
    Degree(1), Degree(2, -1), Degree(2), Degree(3, -1), Degree(3), Degree(4), Degree(4, 1),
    Degree(5), Degree(6, -1), Degree(6), Degree(7, -1), Degree(7),
)  # fmt: skip


def section_pairs(chart: Chart, *, returning: bool = False) -> Iterator[Chart]:
    """Two sung sections of a song as a chart of their own, for each such pair in order.

    They are neighbours of different kinds, or, if `returning`, a section and the last one of its
    kind before it.
    """
    sections = chart.sections
    for at, section in enumerate(sections):
        if section.kind not in SUNG:
            continue
        if not returning:
            if at and sections[at - 1].kind in SUNG and sections[at - 1].kind != section.kind:
                yield _two(chart, at - 1, at)
            continue
        before = [other for other in range(at) if sections[other].kind == section.kind]
        if before:
            yield _two(chart, before[-1], at)


def _two(chart: Chart, first: int, last: int) -> Chart:
    """Two sections of a song, without what is between them; the second keeps its change of
    key only where they are neighbours."""
    places = tuple(chart.placed_bars())
    numbers = [place.number for place in places if first <= place.section <= last]
    heard = excerpt(chart, numbers[0], numbers[-1])
    ends = (heard.sections[0], heard.sections[-1])
    if last - first > 1:
        ends = (ends[0], _in_one_key(ends[1]))
    return replace(heard, sections=ends)


def _in_one_key(section: Section) -> Section:
    first = section.phrases[0]
    bars = (replace(first.bars[0], key_change=0), *first.bars[1:])
    return replace(section, phrases=(Phrase(bars), *section.phrases[1:]))


def counted_from_relative_major(chart: Chart) -> Chart:
    """A minor song with its numbers counted from the 1 of the relative major; any other song as it
    is."""
    if not chart.key.minor:
        return chart
    name = USUAL_MAJOR[(chart.key.pitch_class + 12 - MINOR_HOME) % 12]
    sections = tuple(
        replace(
            section,
            phrases=tuple(Phrase(tuple(map(_moved_bar, each.bars))) for each in section.phrases),
        )
        for section in chart.sections
    )
    return replace(chart, key=Key.parse(name), sections=sections)


def _moved_bar(bar: Bar) -> Bar:
    events = tuple(
        replace(event, chord=_moved_chord(event.chord)) if event.chord else event
        for event in bar.events
    )
    return replace(bar, events=events)


def _moved_chord(chord: Chord) -> Chord:
    root = _moved_degree(chord.root)
    bass = _moved_degree(chord.bass) if chord.bass is not None else None
    return replace(chord, degree=root.number, alteration=root.alteration, bass=bass)


def _moved_degree(degree: Degree) -> Degree:
    return DEGREES[(degree.semitones + MINOR_HOME) % 12]
