"""A chart as slash notation: one slash a beat, with diamonds, rests, chokes and pushes as notes.

A hold is a diamond of its written length, tied where one note value can't show it. A choke is one
struck beat and a rest. A push is the chord an eighth early: the beat before it gives up an eighth,
which is tied into the chord. Events that divide a bar evenly into lengths that no note has are a
tuplet over the bar. In a bar whose hits are given every hit is an accented slash.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from typing import NamedTuple

from trainer.chart import Articulation, Bar, Chart, Event, Meter, PlacedBar

__all__ = ["Head", "NoteValue", "SlashBar", "SlashNote", "Tuplet", "slash_bars", "writes_hits"]

EIGHTH = Fraction(1, 2)
# The note values of MusicXML with their length in quarters, longest first.
VALUES: tuple[tuple[str, Fraction], ...] = tuple(
    (name, Fraction(32, 2**place))
    for place, name in enumerate(
        ("maxima", "long", "breve", "whole", "half", "quarter", "eighth", "16th", "32nd", "64th",
         "128th", "256th", "512th", "1024th")
    )
)  # fmt: skip


class Head(StrEnum):
    """What a note looks like."""

    SLASH = "slash"
    DIAMOND = "diamond"
    REST = "rest"


class NoteValue(NamedTuple):
    """A note value such as "quarter", with or without a dot, and its length in quarters."""

    name: str
    dotted: bool
    quarters: Fraction


class Tuplet(NamedTuple):
    """`actual` notes in the time of `normal` ones; `start` and `stop` mark its ends."""

    actual: int
    normal: int
    start: bool
    stop: bool


class Anticipated(NamedTuple):
    """A chord with the bar that it belongs to; a pushed one may stand in the bar before."""

    event: Event
    place: PlacedBar


@dataclass(frozen=True, slots=True)
class SlashNote:
    """One note or rest of a bar.

    `length_quarters` is what it takes of the bar. `chord` is the event that begins with it, whose
    articulation needs a word if `says_push` is set. `whole_bar` marks a rest of a whole bar.
    """

    length_quarters: Fraction
    value: NoteValue
    head: Head
    chord: Anticipated | None = None
    tuplet: Tuplet | None = None
    tie_start: bool = False
    tie_stop: bool = False
    choked: bool = False
    says_push: bool = False
    whole_bar: bool = False
    accented: bool = False


@dataclass(frozen=True, slots=True)
class SlashBar:
    """A bar of the chart as notes that fill it."""

    place: PlacedBar
    notes: tuple[SlashNote, ...]


class _Span(NamedTuple):
    """An event with its start in its bar and its length, in quarters."""

    place: PlacedBar
    event: Event
    start: Fraction
    length: Fraction
    tuplet: Tuplet | None


def slash_bars(chart: Chart) -> list[SlashBar]:
    """Write every bar of a chart in slash notation."""
    spans = [span for place in chart.placed_bars() for span in _spans(place)]
    early = [_is_early(spans[at - 1], span) if at else False for at, span in enumerate(spans)]
    notes: dict[int, list[SlashNote]] = {}
    for place in chart.placed_bars():
        if writes_hits(place.bar):
            notes[place.number] = list(_hit_notes(place))
    for at, span in enumerate(spans):
        if writes_hits(span.place.bar):
            continue
        in_bar = notes.setdefault(span.place.number, [])
        follower = spans[at + 1] if at + 1 < len(spans) and early[at + 1] else None
        length = span.length - (EIGHTH if follower else 0)
        in_bar += _notes(span, length, tied_in=early[at])
        if follower is not None:
            chord = Anticipated(follower.event, follower.place)
            value = NoteValue("eighth", False, EIGHTH)
            in_bar.append(SlashNote(EIGHTH, value, Head.SLASH, chord, tie_start=True))
    return [SlashBar(place, tuple(notes[place.number])) for place in chart.placed_bars()]


def writes_hits(bar: Bar) -> bool:
    """Whether the hits of a bar are written as its notes.

    That needs chords that begin where a note can, and a chord under every hit.
    """
    lengths = [event.beats * Fraction(4, bar.meter.unit) for event in bar.events]
    sounds = all(event.chord is not None for event in bar.events)
    return bool(bar.hits) and sounds and all(map(_has_binary_length, lengths))


def _hit_notes(place: PlacedBar) -> Iterator[SlashNote]:
    """The notes of a bar with hits: a note on each, as long as one value can be, and rests."""
    bar = place.bar
    quarter = Fraction(4, bar.meter.unit)
    hits = {hit * quarter for hit in bar.hits}
    chords = dict(zip((start * quarter for start in bar.starts()), bar.events, strict=True))
    sounding = bar.events[0]
    cuts = sorted({*hits, *chords, bar.meter.quarters})
    for start, end in pairwise(cuts):
        sounding = chords.get(start, sounding)
        head = Head.DIAMOND if sounding.articulation is Articulation.HOLD else Head.SLASH
        if start not in hits or sounding.chord is None:
            head = Head.REST
        notes = _tied(end - start, head)
        if head is Head.SLASH:
            rests = _tied(end - start - notes[0].length_quarters, Head.REST)
            notes = [replace(notes[0], tie_start=False), *rests]
        chord = Anticipated(chords[start], place) if start in chords else None
        is_hit = head is not Head.REST
        yield replace(
            notes[0],
            chord=chord,
            accented=is_hit,
            choked=is_hit and sounding.articulation is Articulation.CHOKE,
            says_push=chord is not None and chord.event.articulation is Articulation.PUSH,
        )
        yield from notes[1:]


def _spans(place: PlacedBar) -> Iterator[_Span]:
    bar, at = place.bar, Fraction(0)
    count = len(bar.events)
    for index, event in enumerate(bar.events):
        length = event.beats * Fraction(4, bar.meter.unit)
        tuplet = None
        if not _has_binary_length(length):
            normal = _normal_notes(bar.meter, count)
            tuplet = Tuplet(count, normal, index == 0, index == count - 1)
        yield _Span(place, event, at, length, tuplet)
        at += length


def _has_binary_length(length: Fraction) -> bool:
    """Whether a length is a sum of plain note values."""
    return length.denominator & (length.denominator - 1) == 0


def _normal_notes(meter: Meter, count: int) -> int:
    """How many plain notes fill a bar that `count` notes of a tuplet fill: as many as fit under."""
    normal = meter.beats
    while normal % 2 == 0 and normal > count:
        normal //= 2
    while normal * 2 <= count:
        normal *= 2
    return normal


def _is_early(before: _Span, span: _Span) -> bool:
    """Whether a pushed chord can be written where it sounds, an eighth early.

    The event before has to spare the eighth. From a beat to a place between two beats, it would
    look like a chord that is tied on.
    """
    unit = span.place.bar.meter.unit
    beat, early = span.start * unit / 4, (span.start - EIGHTH) * unit / 4
    return (
        span.event.articulation is Articulation.PUSH
        and not (before.place.bar.hits or span.place.bar.hits)
        and before.tuplet is None
        and before.length > EIGHTH
        and (beat.denominator == 1 or early.denominator > 1)
    )


def _notes(span: _Span, length: Fraction, *, tied_in: bool) -> list[SlashNote]:
    """The notes of an event that lasts `length` quarters; a push may be tied into them."""
    event = span.event
    chord = None if tied_in else Anticipated(event, span.place)
    says_push = event.articulation is Articulation.PUSH and not tied_in
    choked = event.articulation is Articulation.CHOKE
    if event.chord is None:
        head = Head.REST
    else:
        head = Head.DIAMOND if event.articulation is Articulation.HOLD else Head.SLASH
    if span.tuplet is not None:
        quarters = span.length * span.tuplet.actual / span.tuplet.normal
        value = _plain_values(quarters)[0]
        return [
            SlashNote(
                span.length, value, head, chord, span.tuplet,
                choked=choked, says_push=says_push, tie_stop=tied_in,
            )
        ]  # fmt: skip
    if choked:
        struck = min(length, span.place.bar.meter.pulse_quarters)
        notes = _tied(struck, Head.SLASH) + _tied(length - struck, Head.REST)
        notes[0] = replace(notes[0], choked=True)
    elif head is Head.SLASH:
        notes = [note for cell in _cells(span, length) for note in _tied(cell, head)]
    else:
        notes = _tied(length, head)
    if head is Head.REST and length == span.place.bar.meter.quarters:
        notes = [SlashNote(length, notes[0].value, head, whole_bar=True)]
    tie_stop = tied_in or notes[0].tie_stop
    notes[0] = replace(notes[0], chord=chord, says_push=says_push, tie_stop=tie_stop)
    return notes


def _cells(span: _Span, length: Fraction) -> Iterator[Fraction]:
    """The lengths of the slashes of an event: cut at each pulse of the bar."""
    pulse, at = span.place.bar.meter.pulse_quarters, span.start
    end = span.start + length
    while at < end:
        following = min((at // pulse + 1) * pulse, end)
        yield following - at
        at = following


def _tied(length: Fraction, head: Head) -> list[SlashNote]:
    """Notes of a length, tied if there are several; none for no length."""
    values = _plain_values(length)
    ties = head is not Head.REST
    return [
        SlashNote(
            value.quarters,
            value,
            head,
            tie_start=ties and at < len(values) - 1,
            tie_stop=ties and at > 0,
        )
        for at, value in enumerate(values)
    ]


@lru_cache(maxsize=1024)
def _plain_values(length: Fraction) -> tuple[NoteValue, ...]:
    """The fewest note values, dots allowed, that make up a length.

    The first of several is never an eighth: a chord on an eighth that is tied on is a push.
    """
    found = []
    for name, quarters in VALUES:
        for dotted, each in ((True, quarters * Fraction(3, 2)), (False, quarters)):
            if each <= length:
                found.append(NoteValue(name, dotted, each))
                length -= each
    if len(found) > 1 and found[0].quarters == EIGHTH:
        found.reverse()
    return tuple(found)
