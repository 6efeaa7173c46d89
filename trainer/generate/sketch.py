"""A song while it is being made: mutable sections, phrases and bars, and how they become a chart.

A sketch names chords by the tokens of the tables; spelling, extension, bass and articulation are
added to it before it is rendered. Phrases and sections share the bars they have in common, so the
different bars of a song are known together with all their occurrences. Finished chords, events and
bars are shared between songs.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from trainer.chart import Articulation, Bar, Chord, Event, Meter, Phrase, Section
from trainer.generate.tokens import parse_chord, spell_bass

__all__ = [
    "BarSketch",
    "Occurrence",
    "PhraseSketch",
    "SectionSketch",
    "SharedBar",
    "render_sections",
    "separate_all_endings",
    "separate_endings",
    "shared_bars",
]


class BarSketch:
    """A bar of a song that is being made.

    `beats`, `chords` (tokens of the tables), `forms` (the chords as spelt, without bass), `basses`
    (degrees, "" for the root) and `articulations` ("d", "p", "c" or "") have one value for each
    chord; `short` says that it is half a bar; `wanted` has the class of the bass that a plan wants
    for each chord, if the bar comes from a plan. Phrases share the bars they have in common: what
    is put on one is heard in all.
    """

    __slots__ = ("articulations", "basses", "beats", "chords", "forms", "short", "wanted")

    def __init__(self, beats: tuple[int, ...], chords: list[str]) -> None:
        self.beats, self.chords = beats, chords
        self.forms = list(chords)
        self.basses = [""] * len(beats)
        self.articulations = [""] * len(beats)
        self.short = False
        self.wanted: list[str] = []

    def copy(self) -> BarSketch:
        """A bar that can be changed without changing this one."""
        made = BarSketch(self.beats, self.chords[:])
        made.forms, made.basses = self.forms[:], self.basses[:]
        made.articulations, made.short = self.articulations[:], self.short
        return made

    @property
    def whole(self) -> bool:
        """Whether one chord fills the bar."""
        return len(self.beats) == 1


class PhraseSketch:
    """A phrase of a song that is being made: its bars and their rhythm types (one letter each, as
    in `trainer.generate.rhythm`)."""

    __slots__ = ("bars", "types")

    def __init__(self, bars: list[BarSketch], types: str) -> None:
        self.bars, self.types = bars, types

    def with_last(self, bar: BarSketch) -> PhraseSketch:
        """The phrase with another last bar."""
        return PhraseSketch([*self.bars[:-1], bar], self.types)

    @property
    def last_chord(self) -> str:
        """The chord that the phrase ends on."""
        return self.bars[-1].chords[-1]


@dataclass(slots=True)
class SectionSketch:
    """One section of the song, in order of playing: its name, kind and phrases, by how many
    semitones the key moves at its start, and the number of the phrase from which the band fades
    (-1 for none)."""

    name: str
    kind: str
    phrases: list[PhraseSketch]
    key_change: int = 0
    fades_from: int = -1


class Occurrence(NamedTuple):
    """One occurrence of a bar in the song: its section and phrase, and the bars around it.

    `number` counts the bars of the phrase from 0. `first` and `last` say that it is the first or
    last bar of the song. `before` and `after` are None at the ends of the song and across a change
    of key.
    """

    section: SectionSketch
    phrase: PhraseSketch
    number: int
    first: bool
    last: bool
    before: BarSketch | None
    after: BarSketch | None
    ends_phrase: bool
    ends_section: bool

    @property
    def opens_section(self) -> bool:
        """Whether it is the first bar of its section."""
        return self.number == 0 and self.phrase is self.section.phrases[0]


class _Course:
    """The bars of a song in order of playing, each with its neighbours.

    `starts` has the number of each phrase's first bar, `phrases` the section, the phrase and its
    number in the section; `openings` are the numbers of the bars that open a section.
    """

    __slots__ = ("after", "bars", "before", "openings", "phrases", "starts")

    def __init__(self, sections: list[SectionSketch]) -> None:
        self.bars = [
            bar for section in sections for phrase in section.phrases for bar in phrase.bars
        ]
        self.before: list[BarSketch | None] = [None, *self.bars[:-1]]
        self.after: list[BarSketch | None] = [*self.bars[1:], None]
        self.starts: list[int] = []
        self.phrases: list[tuple[SectionSketch, PhraseSketch, int]] = []
        self.openings: set[int] = set()
        at = 0
        for section in sections:
            if at and section.key_change:
                self.before[at] = self.after[at - 1] = None
            for turn, phrase in enumerate(section.phrases):
                if phrase is section.phrases[0]:
                    self.openings.add(at)
                self.starts.append(at)
                self.phrases.append((section, phrase, turn))
                at += len(phrase.bars)

    def occurrence(self, at: int) -> Occurrence:
        """What is around the bar with a number."""
        place = bisect_right(self.starts, at) - 1
        section, phrase, turn = self.phrases[place]
        number = at - self.starts[place]
        ends_phrase = number == len(phrase.bars) - 1
        return Occurrence(
            section=section,
            phrase=phrase,
            number=number,
            first=at == 0,
            last=at == len(self.bars) - 1,
            before=self.before[at],
            after=self.after[at],
            ends_phrase=ends_phrase,
            ends_section=ends_phrase and turn == len(section.phrases) - 1,
        )


class SharedBar:
    """A bar with every occurrence in the song; bars in common are one `BarSketch`."""

    __slots__ = ("_around", "_course", "_places", "bar")

    def __init__(self, bar: BarSketch, course: _Course, places: list[int]) -> None:
        self.bar, self._course, self._places = bar, course, places
        self._around: list[tuple[BarSketch | None, BarSketch | None]] = []

    @property
    def copies(self) -> int:
        """How often the bar is heard in the song."""
        return len(self._places)

    @property
    def first(self) -> Occurrence:
        """Its first occurrence."""
        return self._course.occurrence(self._places[0])

    @property
    def occurrences(self) -> list[Occurrence]:
        """Its occurrences in order of playing."""
        return [self._course.occurrence(at) for at in self._places]

    @property
    def opens_section(self) -> bool:
        """Whether a section opens with it."""
        return not self._course.openings.isdisjoint(self._places)

    @property
    def ends_song(self) -> bool:
        """Whether the song ends with it."""
        return self._places[-1] == len(self._course.bars) - 1

    def around(self) -> list[tuple[BarSketch | None, BarSketch | None]]:
        """The different pairs of bars before and after it."""
        if not self._around:
            before, after = self._course.before, self._course.after
            pairs = {(id(before[at]), id(after[at])): at for at in self._places}
            self._around = [(before[at], after[at]) for at in pairs.values()]
        return self._around


def shared_bars(sections: list[SectionSketch]) -> list[SharedBar]:
    """The different bars of the song, in the order in which they are first heard."""
    course = _Course(sections)
    places: dict[int, list[int]] = {}
    for at, bar in enumerate(course.bars):
        places.setdefault(id(bar), []).append(at)
    return [SharedBar(course.bars[each[0]], course, each) for each in places.values()]


def separate_endings(sections: list[SectionSketch]) -> None:
    """Copy the last bar of each section where the section also plays that bar earlier.

    An articulation put on the last bar is then heard at the end only.
    """
    made: dict[tuple[str, int], PhraseSketch] = {}
    for section in sections:
        last = section.phrases[-1]
        key = section.kind, id(last)
        if key not in made:
            bars = [id(bar) for phrase in section.phrases for bar in phrase.bars]
            shared = id(last.bars[-1]) in bars[:-1]
            made[key] = last.with_last(last.bars[-1].copy()) if shared else last
        section.phrases[-1] = made[key]


def separate_all_endings(sections: list[SectionSketch]) -> None:
    """Copy the last bar of every section, so that what is put on it is heard there only."""
    for section in sections:
        last = section.phrases[-1]
        section.phrases[-1] = last.with_last(last.bars[-1].copy())


@lru_cache(maxsize=4096)
def _chord(form: str, bass: str) -> Chord:
    chord = parse_chord(form)
    if not bass:
        return chord
    return Chord(
        chord.degree, chord.alteration, chord.quality, chord.extension, spell_bass(form, bass)
    )


_ARTICULATIONS = {"": None, "d": Articulation.HOLD, "p": Articulation.PUSH, "c": Articulation.CHOKE}


@lru_cache(maxsize=16384)
def _event(form: str, bass: str, beats: int, articulation: str) -> Event:
    if not form:
        return Event(None, Fraction(beats))
    return Event(_chord(form, bass), Fraction(beats), _ARTICULATIONS[articulation])


@lru_cache(maxsize=65536)
def _bar(
    meter: Meter,
    forms: tuple[str, ...],
    basses: tuple[str, ...],
    beats: tuple[int, ...],
    articulations: tuple[str, ...],
    key_change: int,
    fades: bool,
) -> Bar:
    events = tuple(map(_event, forms, basses, beats, articulations))
    return Bar(meter, events, key_change, fades=fades)


def _render_bar(bar: BarSketch, meter: Meter, key_change: int = 0, fades: bool = False) -> Bar:
    """The bar as it stands in a chart, in its own meter; the key moves at its start by `key_change`
    semitones, and the fade begins there."""
    return _bar(
        meter,
        tuple(bar.forms),
        tuple(bar.basses),
        bar.beats,
        tuple(bar.articulations),
        key_change,
        fades,
    )


def render_sections(sections: list[SectionSketch], meter: Meter) -> tuple[Section, ...]:
    """The sections as they stand in the chart; phrases that are shared are rendered once."""
    short = Meter(meter.beats // 2, meter.unit) if meter.beats % 2 == 0 else meter
    bars: dict[int, Bar] = {}
    known: dict[int, Phrase] = {}
    finished = []
    for section in sections:
        phrases = []
        for at, phrase in enumerate(section.phrases):
            made = known.get(id(phrase))
            if made is None:
                for bar in phrase.bars:
                    if id(bar) not in bars:
                        bars[id(bar)] = _render_bar(bar, short if bar.short else meter)
                made = known[id(phrase)] = Phrase(tuple([bars[id(bar)] for bar in phrase.bars]))
            moved = 0 if at else section.key_change
            if moved or at == section.fades_from:
                bar = phrase.bars[0]
                first = _render_bar(
                    bar, short if bar.short else meter, moved, at == section.fades_from
                )
                made = Phrase((first, *made.bars[1:]))
            phrases.append(made)
        finished.append(Section(section.name, tuple(phrases)))
    return tuple(finished)
