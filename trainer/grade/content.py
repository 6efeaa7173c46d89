"""What bars and charts contain, in the form in which they are compared.

A chord is compared by its sonority: root, bass and notes as pitch classes, counted in semitones
above the tonic (home, the note that is numbered 1). Spelling does not matter here: #4 and b5 are
the same. A set of pitch classes is an integer of 12 bits, in which bit 0 is the tonic. A bar is the
sonorities of its chords with the positions where they start (`BarContent`), a chart is a row of
such bars with the boundaries of its phrases and sections (`ChartContent`).

Bars that are written with the same meter, chords, beats, articulations and key change, and are
counted from the same tonic, have one content: contents are equal only if they are the same object,
so that comparing them takes no time. They are kept in bounded tables, since the same bars come in
many charts; the tables save time and change no result.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate
from math import lcm
from threading import Lock
from typing import Any
from weakref import WeakValueDictionary

from trainer.chart.chords import intervals
from trainer.chart.model import Articulation, Bar, Chart, Chord, Event, Section

__all__ = [
    "OPEN",
    "SILENCE",
    "BarContent",
    "ChartContent",
    "Sonority",
    "as_plain_minor",
    "bar_content",
    "chart_content",
    "in_first_key",
    "is_usually_minor",
    "note_name",
    "note_names",
    "rekeyed_bar",
    "sonority_of",
    "tone_similarity",
    "transposed_bar",
]

MOST_CACHED = 1 << 14
NOTE_NAMES = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")
# The numbers of the major scale whose chords are minor, so that some leave out their minus.
USUALLY_MINOR = (2, 3, 6)


@dataclass(frozen=True, slots=True)
class Sonority:
    """The notes of a chord as it sounds.

    `root` and `bass` are pitch classes 0 to 11, below 0 where there is no chord. `tones` are the
    chord's own notes, `all_tones` the notes with the bass, `completed` the same with the root that
    a diminished triad leaves out: it is a dominant seventh chord without its root (7o is 5^7/7
    without the 5; Piston, Harmony, "The dominant seventh chord: the leading-tone triad"; cited from
    memory). `name` is the chord as it is written; it is read `shift` semitones higher, 0 to 11.
    """

    root: int
    bass: int
    tones: int
    all_tones: int
    completed: int
    chord: Chord | None
    name: str
    shift: int = 0

    def __hash__(self) -> int:
        # Equal sonorities have equal names; the rest would only take time.
        return hash((self.root, self.name))

    def same_chord_as(self, other: Sonority) -> bool:
        """Whether both have the same pitch classes and the same bass, whatever they are called."""
        return self.bass == other.bass and self.all_tones == other.all_tones

    def nearly_same_as(self, other: Sonority) -> bool:
        """Whether both stand on one bass with one note more or less at most, on other roots.

        Examples are 4/5 and 5^9sus4, b7/1 and 1^9sus4, 5/7 and 7o.
        """
        return (
            self.root != other.root
            and self.bass == other.bass
            and (
                (self.all_tones ^ other.completed).bit_count() <= 1
                or (self.completed ^ other.all_tones).bit_count() <= 1
            )
        )

    def is_one_note_off(self, other: Sonority) -> bool:
        """Whether both stand on one bass with the same notes but for one, on other roots.

        Examples are 1/3 and 3-, 1^sus4 and 4/1.
        """
        return (
            self.root != other.root
            and self.bass == other.bass >= 0
            and (self.all_tones & ~other.all_tones).bit_count() == 1
            and (other.all_tones & ~self.all_tones).bit_count() == 1
        )

    def is_related_to(self, other: Sonority) -> bool:
        """Whether the roots and basses differ and at least half of all notes are common.

        Examples are 4 and 2-, 1 and 6-, 5 and 3-.
        """
        common = (self.tones & other.tones).bit_count()
        return (
            self.root != other.root
            and self.bass != other.bass
            and common >= 2
            and 2 * common >= (self.tones | other.tones).bit_count()
        )

    def __str__(self) -> str:
        return self.name


SILENCE = Sonority(-1, -1, 0, 0, 0, None, "0")
# An open bar: it agrees with nothing that is played, silence among it, so that its root, its bass
# and the one note it has are none of a chord's.
OPEN = Sonority(-2, -2, 1 << 12, 1 << 12, 1 << 12, None, "?")


@lru_cache(maxsize=MOST_CACHED)
def sonority_of(chord: Chord | None, shift: int = 0) -> Sonority:
    """Return the sonority of a chord, moved up by `shift` semitones; SILENCE for no chord."""
    if chord is None:
        return SILENCE
    root = (chord.root.semitones + shift) % 12
    bass = root if chord.bass is None else (chord.bass.semitones + shift) % 12
    tones = 0
    for interval in intervals(chord.quality, chord.extension):
        tones |= 1 << (root + interval) % 12
    all_tones = tones | 1 << bass
    is_diminished_triad = chord.quality == "o" and not chord.extension
    completed = all_tones | (1 << (root - 4) % 12 if is_diminished_triad else 0)
    return Sonority(root, bass, tones, all_tones, completed, chord, str(chord), shift % 12)


def tone_similarity(one: Sonority, other: Sonority) -> float:
    """Return the notes in common over all notes of both chords (Jaccard index), 0 to 1.

    Basses are left out; two silences are alike.

    >>> tone_similarity(sonority_of(Chord(4)), sonority_of(Chord(2, quality="-")))
    0.5
    """
    either = (one.tones | other.tones).bit_count()
    return (one.tones & other.tones).bit_count() / either if either else 1.0


def is_usually_minor(chord: Chord) -> bool:
    """Whether a chord stands on 2, 3 or 6: there a plain number may be meant as a minor chord."""
    return chord.degree in USUALLY_MINOR and not chord.alteration


def as_plain_minor(written: Sonority, played: Sonority) -> Sonority:
    """Read a plain 2, 3 or 6 as the minor chord where a minor chord on it was played.

    This is how houses read a chart that leave out the minus on these three. Returns `written`
    itself where it cannot be read so.
    """
    one, other = written.chord, played.chord
    if (
        one is None
        or other is None
        or one.quality
        or other.quality != "-"
        or written.root != played.root
        or not is_usually_minor(one)
    ):
        return written
    shift = written.root - one.root.semitones
    extension = one.extension if one.extension in ("", "6", "7", "9", "11", "add9") else None
    if extension is None:
        return written
    return sonority_of(Chord(one.degree, one.alteration, "-", extension, one.bass), shift)


def note_name(pitch_class: int) -> str:
    """Return the usual name of a note by its step in the major scale of the tonic."""
    return NOTE_NAMES[pitch_class % 12]


def note_names(notes: int) -> tuple[str, ...]:
    """Return the names of a set of notes, from the tonic upwards."""
    return tuple(NOTE_NAMES[note] for note in range(12) if notes >> note & 1)


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class BarContent:
    """The content of a bar. Positions in the bar count in `grid` equal steps to the bar.

    `starts` and `sonorities` have the same length: where each chord starts, and what it sounds. A
    chord written again is one sonority, since rewriting a chord that goes on changes nothing.
    `progression` holds bass and notes of the sonorities in order, each change once; `changes` the
    positions inside the bar where the chord changes; `articulations` pairs of position and
    articulation; `key_change` is in semitones.

    The `key` is made of all that the content is made from. All bars with one key have this content.
    """

    bar: Bar
    grid: int
    starts: tuple[int, ...]
    sonorities: tuple[Sonority, ...]
    progression: tuple[tuple[int, int], ...]
    changes: tuple[int, ...]
    articulations: tuple[tuple[int, Articulation], ...]
    key_change: int
    key: tuple[Any, ...]

    @property
    def has_chord(self) -> bool:
        """Whether a chord sounds anywhere in the bar."""
        return any(sonority.root >= 0 for sonority in self.sonorities)

    @property
    def meter(self) -> tuple[int, int]:
        """Beats and unit of the bar's meter."""
        return self.bar.meter.beats, self.bar.meter.unit

    def changes_on(self, grid: int) -> set[int]:
        """Return the positions of the changes, counted on a finer grid, a multiple of the bar's."""
        finer = grid // self.grid
        return {at * finer for at in self.changes}

    def articulations_on(self, grid: int) -> set[tuple[int, Articulation]]:
        """Return the articulations with their positions counted on a finer grid."""
        finer = grid // self.grid
        return {(at * finer, articulation) for at, articulation in self.articulations}


# The contents of the bars met last, and all contents that are in use, each by its key.
_contents: dict[tuple[Any, ...], BarContent] = {}
_in_use: WeakValueDictionary[tuple[Any, ...], BarContent] = WeakValueDictionary()
_lock = Lock()


def bar_content(bar: Bar) -> BarContent:
    """Return the content of a bar, as it is written."""
    return _contents_of((bar,))[0]


def _contents_of(bars: Iterable[Bar]) -> list[BarContent]:
    """Return the content of each bar, as it is written."""
    found: list[BarContent] = []
    known, add = _contents.get, found.append
    for bar in bars:
        events = bar.events
        key: tuple[Any, ...]
        event, meter = events[0], bar.meter
        chord = event.chord
        if chord is not None and len(events) == 1:
            # A single event fills the bar, so that its beats are known.
            key = (
                meter.beats,
                meter.unit,
                bar.key_change,
                chord.degree,
                chord.alteration,
                chord.quality,
                chord.extension,
                chord.bass,
                event.articulation,
            )
        else:
            key = _key(bar)
        content = known(key)
        if content is None:
            if len(_contents) >= MOST_CACHED:
                _contents.clear()
            content = _contents[key] = _only_content(bar, key, 0, bar.key_change)
        add(content)
    return found


def _key(bar: Bar) -> tuple[Any, ...]:
    """Return what tells bars of several events, open bars and silent bars apart."""
    meter = bar.meter
    key: list[Any] = [meter.beats, meter.unit, bar.key_change]
    if bar.is_open:
        key.append(OPEN.name)
    elif len(bar.events) == 1:
        return tuple(key)
    for event in bar.events:
        key += (*_event_key(event), *event.beats.as_integer_ratio())
    return tuple(key)


def _event_key(event: Event) -> tuple[Any, ...]:
    chord = event.chord
    if chord is None:
        return ()
    return (
        chord.degree,
        chord.alteration,
        chord.quality,
        chord.extension,
        chord.bass,
        event.articulation,
    )


def _only_content(bar: Bar, key: tuple[Any, ...], shift: int, key_change: int) -> BarContent:
    """Return the content that all bars with a key have, made anew if none of it is in use."""
    with _lock:
        found = _in_use.get(key)
        if found is None:
            found = _in_use[key] = _analyse(bar, key, shift, key_change)
        return found


def _analyse(bar: Bar, key: tuple[Any, ...], shift: int, key_change: int) -> BarContent:
    positions = [start / bar.meter.beats for start in bar.starts()]
    grid = lcm(*(position.denominator for position in positions))
    starts: list[int] = []
    sonorities: list[Sonority] = []
    changes: list[int] = []
    articulations: list[tuple[int, Articulation]] = []
    for position, event in zip(positions, bar.events, strict=True):
        at = int(position * grid)
        sonority = OPEN if bar.is_open else sonority_of(event.chord, shift)
        if sonorities and not sonority.same_chord_as(sonorities[-1]):
            changes.append(at)
        if not sonorities or changes[-1:] == [at] or sonority.root != sonorities[-1].root:
            starts.append(at)
            sonorities.append(sonority)
        if event.articulation is not None:
            articulations.append((at, event.articulation))
    chords = [(sonority.bass, sonority.all_tones) for sonority in sonorities]
    progression = [chord for k, chord in enumerate(chords) if not k or chord != chords[k - 1]]
    return BarContent(
        bar,
        grid,
        tuple(starts),
        tuple(sonorities),
        tuple(progression),
        tuple(changes),
        tuple(articulations),
        key_change,
        key,
    )


def transposed_bar(content: BarContent, shift: int) -> BarContent:
    """Return the content with its numbers `shift` semitones higher."""
    return rekeyed_bar(content, shift, content.key_change) if shift else content


@lru_cache(maxsize=MOST_CACHED)
def rekeyed_bar(content: BarContent, shift: int, key_change: int) -> BarContent:
    """Return the content with its numbers `shift` semitones higher and another key change."""
    key = (*content.key, "transposed", shift, key_change)
    return _only_content(content.bar, key, shift, key_change)


@dataclass(frozen=True, slots=True, eq=False)
class ChartContent:
    """The content of a chart: rows of equal length, with one entry a bar, counted from 0.

    `phrase_of_bar` and `section_of_bar` are the numbers of the phrase and section that a bar stands
    in, `key_shifts` the semitones by which the key has moved up to a bar, its own key change
    included. `phrase_boundaries` are the bars that a phrase ends before, the first (0) and the last
    (the number of bars) included, `section_boundaries` those that a section ends before. `sections`
    are the chart's sections, `section_kinds` their kinds.
    """

    bars: tuple[Bar, ...]
    contents: tuple[BarContent, ...]
    phrase_of_bar: tuple[int, ...]
    section_of_bar: tuple[int, ...]
    key_shifts: tuple[int, ...]
    phrase_boundaries: tuple[int, ...]
    section_boundaries: tuple[int, ...]
    sections: tuple[Section, ...]
    section_kinds: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.bars)


def chart_content(chart: Chart) -> ChartContent:
    """Lay the bars of a chart out in a row, in the order in which they are written."""
    bars: list[Bar] = []
    phrase_of_bar: list[int] = []
    section_of_bar: list[int] = []
    phrase_boundaries, section_boundaries = [0], [0]
    for number, section in enumerate(chart.sections):
        for phrase in section.phrases:
            bars += phrase.bars
            phrase_of_bar += [len(phrase_boundaries) - 1] * len(phrase.bars)
            section_of_bar += [number] * len(phrase.bars)
            phrase_boundaries.append(len(bars))
        section_boundaries.append(len(bars))
    return ChartContent(
        tuple(bars),
        tuple(_contents_of(bars)),
        tuple(phrase_of_bar),
        tuple(section_of_bar),
        tuple(accumulate([bar.key_change for bar in bars])),
        tuple(phrase_boundaries),
        tuple(section_boundaries),
        chart.sections,
        tuple([section.kind for section in chart.sections]),
    )


def in_first_key(chart: ChartContent) -> ChartContent:
    """Return the chart with every number counted in the first key and no key change written."""
    pairs = zip(chart.contents, chart.key_shifts, strict=True)
    contents = [rekeyed_bar(bar, shift % 12, 0) for bar, shift in pairs]
    return replace(chart, contents=tuple(contents))
