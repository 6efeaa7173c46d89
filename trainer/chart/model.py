"""The chart: section, phrase, bar, event, chord.

Everything is frozen and checked on construction. Beats are counted in the meter's own beats, the
lower number of the meter: quarters in 4/4, eighths in 6/8. Numbers are degrees of the key that
holds where they stand. A plain degree is a major chord (common practice).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from itertools import groupby
from typing import NamedTuple

from trainer.chart.chords import Chord, Degree
from trainer.chart.hits import check_hits
from trainer.chart.keys import Key
from trainer.chart.meter import Feel, Meter
from trainer.chart.notes import COMMENT_SIGN, MOST_NOTES, check_comments, check_notes
from trainer.chart.one_line import is_one_line
from trainer.chart.section_names import section_kind, split_repeats
from trainer.errors import ChartError

__all__ = [
    "Articulation",
    "Bar",
    "Chart",
    "Chord",
    "Degree",
    "Event",
    "Feel",
    "Meter",
    "Phrase",
    "PlacedBar",
    "Section",
    "excerpt",
]

MOST_EVENTS = 8
MOST_BARS = 2_000
MOST_CHARACTERS = 20_000
TEMPO_BPM = (20.0, 400.0)
HIGHEST_CAPO, MOST_COUNT_OFF_BARS = 9, 2
# The header lines that a chart has, and those that a text may have: two say how it is typed.
VALUE_WORDS = ("title", "meter", "tempo", "feel", "key", "capo", "count-off")
HEADER_WORDS = (*VALUE_WORDS, "chords", "bar lines")


class Articulation(StrEnum):
    """What happens to a chord besides sounding."""

    HOLD = "hold"
    PUSH = "push"
    CHOKE = "choke"


@dataclass(frozen=True, slots=True)
class Event:
    """A chord (None for no chord) of `beats` beats of its bar's meter, perhaps articulated."""

    chord: Chord | None
    beats: Fraction
    articulation: Articulation | None = None

    def __post_init__(self) -> None:
        if self.beats <= 0:
            raise ChartError(f"chord {self.chord or 0}", f"{self.beats} beats", "more than 0 beats")
        if self.chord is None and self.articulation is not None:
            raise ChartError("no chord (0)", f"a {self.articulation}", "no articulation on silence")


@dataclass(frozen=True, slots=True)
class Bar:
    """One bar. `key_change` is by how many semitones the key moves from this bar on.

    `is_open` is whether the bar's chord is not known yet; such a bar holds no chord. `fades` is
    whether the band fades out from this bar to the end of the chart. `notes` are words for the
    players from this bar on. `hits` are where everybody strikes together, in beats from the bar
    line; without any the band plays its own rhythm.
    """

    meter: Meter
    events: tuple[Event, ...]
    key_change: int = 0
    is_open: bool = False
    fades: bool = False
    notes: tuple[str, ...] = ()
    hits: tuple[Fraction, ...] = ()

    def __post_init__(self) -> None:
        if self.is_open and any(event.chord is not None for event in self.events):
            raise ChartError("bar", "chords in an open bar", "no chord where none is known yet")
        if not 1 <= len(self.events) <= max(MOST_EVENTS, self.meter.beats):
            raise ChartError(
                "bar", f"{len(self.events)} chords", f"1 to {max(MOST_EVENTS, self.meter.beats)}"
            )
        if not -11 <= self.key_change <= 11:
            raise ChartError("bar", f"key change {self.key_change}", "-11 to 11 semitones")
        if self.notes:
            check_notes("bar", self.notes)
        self._check_beats()
        if self.hits:
            check_hits(self.hits, self.meter, self.events)

    def _check_beats(self) -> None:
        if len(self.events) == 1 and self.events[0].beats == self.meter.beats:
            return
        total = sum((event.beats for event in self.events), Fraction(0))
        if total != self.meter.beats:
            raise ChartError("bar", f"{total} beats", f"{self.meter.beats} beats in {self.meter}")
        if not self.is_even and any(event.beats.denominator != 1 for event in self.events):
            raise ChartError(
                "bar",
                " + ".join(str(event.beats) for event in self.events) + " beats",
                "whole beats, or the bar divided evenly",
            )

    @property
    def is_even(self) -> bool:
        """Whether the events divide the bar evenly."""
        return len({event.beats for event in self.events}) == 1

    def starts(self) -> tuple[Fraction, ...]:
        """Where each event starts, in beats from the bar line."""
        at, places = Fraction(0), []
        for event in self.events:
            places.append(at)
            at += event.beats
        return tuple(places)


@dataclass(frozen=True, slots=True)
class Phrase:
    """The bars up to where the vocal starts over, with comments for people only."""

    bars: tuple[Bar, ...]
    comments: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.bars:
            raise ChartError("phrase", "no bars", "at least one bar")
        if self.comments:
            check_comments("phrase", self.comments)


def check_section_name(name: str) -> None:
    """Raise ChartError unless a section may be called so; "" is allowed here."""
    wrong = name and (
        not name[0].isalpha()
        or ":" in name
        or f" {COMMENT_SIGN}" in name
        or len(name) > 40
        or not is_one_line(name)
        or name.lower() in HEADER_WORDS
        or split_repeats(name)[1] > 1
    )
    if wrong:
        raise ChartError(
            "section name",
            repr(name),
            "at most 40 characters on one line, a letter first, no colon, no count such as x2, no "
            f"{COMMENT_SIGN} after a space, not one of " + ", ".join(HEADER_WORDS),
        )


@dataclass(frozen=True, slots=True)
class Section:
    """A named section of the song, as labelled at the left of the sheet.

    A name starts with a letter, has no colon and no count such as x2, and is at most 40 characters.
    "" is allowed for the first section of a chart only, since an exercise of one phrase needs no
    label. `notes` are words for the players about the whole section, `comments` are for people
    only; both stand beside the name, so that a section without one has none.
    """

    name: str
    phrases: tuple[Phrase, ...]
    notes: tuple[str, ...] = ()
    comments: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        check_section_name(self.name)
        if self.notes or self.comments:
            self._check_words()
        if not self.phrases:
            raise ChartError(f"section {self.name!r}", "no phrases", "at least one phrase")

    def _check_words(self) -> None:
        if not self.name:
            raise ChartError("section", "notes on a section with no name", "a name beside them")
        check_notes(f"section {self.name!r}", self.notes)
        check_comments(f"section {self.name!r}", self.comments)

    @property
    def kind(self) -> str:
        """The kind of section: verse, chorus, tag … or other."""
        return section_kind(self.name)


class PlacedBar(NamedTuple):
    """A bar and its place in the chart.

    `section`, `phrase` (within the section) and `index` (within the phrase) count from 0, `number`
    from 1. `key_shift` is how many semitones the key has moved since the beginning.
    """

    number: int
    section: int
    phrase: int
    index: int  # type: ignore[assignment]  # hides tuple.index, which a place has no use for
    bar: Bar
    start_quarters: Fraction
    key_shift: int


@dataclass(frozen=True, slots=True)
class Chart:
    """A whole song.

    `tempo` counts the meter's pulse a minute (`Meter.pulse_quarters`). `capo` is the fret of the
    guitar's capo, 0 for none, None if the chart leaves it to the guitarist. `count_off` is how many
    bars are counted off. `comments` are for people only.
    """

    title: str
    meter: Meter
    tempo: float
    feel: Feel
    key: Key
    sections: tuple[Section, ...]
    capo: int | None = None
    count_off: int = 1
    comments: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not is_one_line(self.title) or len(self.title) > 120:
            raise ChartError("title", repr(self.title[:140]), "one line of at most 120 characters")
        if not TEMPO_BPM[0] <= self.tempo <= TEMPO_BPM[1]:
            raise ChartError("tempo", f"{self.tempo}", f"{TEMPO_BPM[0]:g} to {TEMPO_BPM[1]:g}")
        if not self.feel.fits(self.meter):
            raise ChartError(
                "feel",
                f"{self.feel} in {self.meter}",
                "a feel that goes with the "
                "meter: " + ", ".join(f for f in Feel if f.fits(self.meter)),
            )
        self._check_guitar_and_count()
        check_comments("chart", self.comments)
        if not self.sections:
            raise ChartError("chart", "no sections", "at least one bar")
        for place, section in enumerate(self.sections):
            if place and not section.name:
                raise ChartError(
                    f"section {place + 1}",
                    "no name",
                    "a name; only the first section may go without",
                )
        bars = self.bars()
        if len(bars) > MOST_BARS:
            raise ChartError("chart", f"{len(bars)} bars", f"at most {MOST_BARS}")
        fades = [number for number, bar in enumerate(bars, 1) if bar.fades]
        if len(fades) > 1:
            raise ChartError(f"bar {fades[1]}", "a second [fade]", "one [fade] in a chart")
        # A quick bound first: no bar takes more than 37 characters and 13 a chord.
        words = self._words_length(bars)
        quick = 50 * (len(bars) + len(self.sections)) + 13 * sum(len(b.events) for b in bars)
        if words + quick > 19_000:
            length = self._written_length() + words
            if length > MOST_CHARACTERS:
                raise ChartError(
                    "chart",
                    f"about {length} characters when written out",
                    f"at most {MOST_CHARACTERS}",
                )

    def _check_guitar_and_count(self) -> None:
        if self.capo is not None and not 0 <= self.capo <= HIGHEST_CAPO:
            raise ChartError("capo", f"{self.capo}", f"a fret from 0 to {HIGHEST_CAPO}")
        if not 0 <= self.count_off <= MOST_COUNT_OFF_BARS:
            raise ChartError(
                "count-off", f"{self.count_off} bars", f"0 to {MOST_COUNT_OFF_BARS} bars"
            )

    def _words_length(self, bars: tuple[Bar, ...]) -> int:
        """The length of all notes, hits and comments as they are written."""
        noted = [bar for bar in bars if bar.notes or bar.hits]
        length = sum(3 * len(bar.hits) + 3 for bar in noted if bar.hits)
        words = [note for bar in noted for note in bar.notes] + list(self.comments)
        for section in self.sections:
            words += (*section.notes, *section.comments)
            words += [each for phrase in section.phrases for each in phrase.comments]
        return length + sum(len(each) + 3 for each in words)

    def _written_length(self) -> int:
        """At least the length of the chart's notation, so that what is written can be read."""
        length = 250 + sum(len(section.name) + 4 for section in self.sections)
        for bar in self.bars():
            length += 3 + 18 * (bar.key_change != 0 or bar.meter != self.meter) + 7 * bar.fades
            length += 0 if bar.is_even else bar.meter.beats
            length += sum(len(str(event.chord or 0)) + 2 for event in bar.events)
        return length

    def placed_bars(self) -> Iterator[PlacedBar]:
        """Yield every bar in order with its place."""
        number, at, shift = 0, Fraction(0), 0
        for s, section in enumerate(self.sections):
            for p, phrase in enumerate(section.phrases):
                for b, bar in enumerate(phrase.bars):
                    number += 1
                    shift += bar.key_change
                    yield PlacedBar(number, s, p, b, bar, at, shift)
                    at += bar.meter.quarters

    def bars(self) -> tuple[Bar, ...]:
        """Every bar in order."""
        return tuple(
            bar for section in self.sections for phrase in section.phrases for bar in phrase.bars
        )

    @property
    def fade_bar(self) -> int | None:
        """The number of the bar from which the band fades out; None if it plays to the end."""
        return next((number for number, bar in enumerate(self.bars(), 1) if bar.fades), None)


def excerpt(chart: Chart, first: int, last: int) -> Chart:
    """Bars `first` to `last` (from 1, both included) as a chart of their own.

    Its key is the one that holds where they start, and so are its notes: what was said earlier in
    the section stands with the section's own. A fade is left out unless it is played to its end.
    Raises ChartError if the chart does not have these bars.
    """
    places = [place for place in chart.placed_bars() if first <= place.number <= last]
    if not 1 <= first <= last or len(places) != last - first + 1:
        raise ChartError(
            "excerpt", f"bars {first} to {last}", f"bars from 1 to {len(chart.bars())}"
        )
    start = places[0]
    places[0] = start._replace(bar=replace(start.bar, key_change=0))
    if last < len(chart.bars()):
        places = [place._replace(bar=replace(place.bar, fades=False)) for place in places]
    sections = tuple(
        replace(chart.sections[index], phrases=_phrases(list(inside), chart.sections[index]))
        for index, inside in groupby(places, key=lambda place: place.section)
    )
    said = _said_before(chart, start)
    if said:
        sections = (replace(sections[0], notes=said), *sections[1:])
    return replace(chart, key=chart.key.shifted(start.key_shift), sections=sections)


def _said_before(chart: Chart, start: PlacedBar) -> tuple[str, ...]:
    """The notes of a section up to a bar in it, as many of the last as a section may have."""
    section = chart.sections[start.section]
    before = [
        note
        for place in chart.placed_bars()
        if place.section == start.section and place.number < start.number
        for note in place.bar.notes
    ]
    return (*section.notes, *before)[-MOST_NOTES:] if section.name else ()


def _phrases(places: list[PlacedBar], section: Section) -> tuple[Phrase, ...]:
    return tuple(
        Phrase(tuple(place.bar for place in inside), section.phrases[number].comments)
        for number, inside in groupby(places, key=lambda place: place.phrase)
    )
