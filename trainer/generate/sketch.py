"""A song while it is being made: mutable sections, phrases and bars, and how they become a chart.

A sketch names chords by the tokens of the tables; spelling, extension, bass and articulation are
added to it before it is rendered. Phrases and sections share the bars they have in common, so the
different bars of a song are known together with all their occurrences. Finished chords, events and
bars are shared between songs.
"""

from __future__ import annotations

from dataclasses import dataclass, field
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
        made = BarSketch(self.beats, list(self.chords))
        made.forms, made.basses, made.articulations = (
            list(self.forms),
            list(self.basses),
            list(self.articulations),
        )
        made.short = self.short
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


@dataclass(slots=True)
class SharedBar:
    """A bar with every occurrence in the song; bars in common are one `BarSketch`."""

    bar: BarSketch
    occurrences: list[Occurrence] = field(default_factory=list)
    _around: list[tuple[BarSketch | None, BarSketch | None]] | None = None

    @property
    def copies(self) -> int:
        """How often the bar is heard in the song."""
        return len(self.occurrences)

    def around(self) -> list[tuple[BarSketch | None, BarSketch | None]]:
        """The different pairs of bars before and after it."""
        if self._around is None:
            pairs = {(id(each.before), id(each.after)): each for each in self.occurrences}
            self._around = [(each.before, each.after) for each in pairs.values()]
        return self._around


def shared_bars(sections: list[SectionSketch]) -> list[SharedBar]:
    """The different bars of the song, in the order in which they are first heard."""
    found: dict[int, SharedBar] = {}
    flat = [bar for section in sections for phrase in section.phrases for bar in phrase.bars]
    following = [*flat[1:], None]
    at, end = 0, len(flat) - 1
    before: BarSketch | None = None
    for place, section in enumerate(sections, 1):
        key_moves = place < len(sections) and sections[place].key_change != 0
        closing = len(section.phrases) - 1
        if section.key_change:
            before = None
        for turn, phrase in enumerate(section.phrases):
            last = len(phrase.bars) - 1
            for index, bar in enumerate(phrase.bars):
                ends_section = index == last and turn == closing
                after = None if ends_section and key_moves else following[at]
                shared = found.get(id(bar))
                if shared is None:
                    shared = found[id(bar)] = SharedBar(bar)
                shared.occurrences.append(
                    Occurrence(
                        section, phrase, index, at == 0, at == end, before, after,
                        index == last, ends_section,
                    )
                )  # fmt: skip
                before = bar
                at += 1
    return list(found.values())


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


def _render_phrase(
    phrase: PhraseSketch, meter: Meter, short: Meter, key_change: int = 0, fades: bool = False
) -> Phrase:
    """The phrase as it stands in a chart: short bars in the meter `short`, the key moved at its
    start by `key_change` semitones, and the fade begun there."""
    return Phrase(
        tuple(
            [
                _bar(
                    short if bar.short else meter,
                    tuple(bar.forms),
                    tuple(bar.basses),
                    bar.beats,
                    tuple(bar.articulations),
                    0 if at else key_change,
                    fades and not at,
                )
                for at, bar in enumerate(phrase.bars)
            ]
        )
    )


def render_sections(sections: list[SectionSketch], meter: Meter) -> tuple[Section, ...]:
    """The sections as they stand in the chart; phrases that are shared are rendered once."""
    short = Meter(meter.beats // 2, meter.unit) if meter.beats % 2 == 0 else meter
    known: dict[int, Phrase] = {}
    finished = []
    for section in sections:
        phrases = []
        for at, phrase in enumerate(section.phrases):
            moved = 0 if at else section.key_change
            if moved or at == section.fades_from:
                fades = at == section.fades_from
                phrases.append(_render_phrase(phrase, meter, short, moved, fades))
                continue
            made = known.get(id(phrase))
            if made is None:
                made = known[id(phrase)] = _render_phrase(phrase, meter, short)
            phrases.append(made)
        finished.append(Section(section.name, tuple(phrases)))
    return tuple(finished)
