"""A MusicXML part as measures of what a chart needs: chords, marks, words, bar lines and repeats.

Positions and lengths are in quarters from the bar line, whatever the file's own divisions are.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from trainer.chart import Degree, Key

__all__ = ["HarmonyRead", "Measure", "Numeral", "Repeat", "Score"]


@dataclass(frozen=True, slots=True)
class Numeral:
    """A root as a degree, counted against the scale of a major key; it may be altered twice."""

    degree: Degree
    key: Key


@dataclass(frozen=True, slots=True)
class HarmonyRead:
    """A chord as a file writes it.

    `root` is a letter name such as "F#", or a numeral. `bass` is a letter name, and `bass_degree`
    the number that the file shows for it; `inversion` counts from 0. `root` None is no chord.
    """

    root: str | Numeral | None
    quality: str = ""
    extension: str = ""
    bass: str = ""
    bass_degree: Degree | None = None
    inversion: int = 0
    is_open: bool = False


@dataclass(frozen=True, slots=True)
class Repeat:
    """What a measure says about the order of play; the names are the standard's own.

    `forward` and `backward` are repeat signs at its left and right, and `times` how often the part
    before a backward sign is played. `endings` are the numbers of the ending it belongs to. The
    rest are the attributes of `sound`.
    """

    forward: bool = False
    backward: bool = False
    times: int | None = None
    after_jump: bool = False
    endings: frozenset[int] = frozenset()
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    da_capo: bool = False
    dal_segno: bool = False
    fine: bool = False


@dataclass(slots=True)
class Measure:
    """One measure of a part.

    Attributes
    ----------
    name : its number as the file has it.
    length : what its notes and rests fill, in quarters; 0 for none.
    meter, key : what holds in it, None before any is said.
    harmonies : by position, in order.
    holds, chokes : positions of notes with a fermata or diamond, and with a staccatissimo.
    anticipations : positions of eighths that are tied to what follows.
    says_push : positions with the word.
    slashes, accents : positions of slashes, and of those with an accent.
    section_words : what is said about the section that begins here.
    hits : beats that everybody strikes, as written in words; "" for none.
    """

    name: str
    length: Fraction = Fraction(0)
    meter: tuple[int, int] | None = None
    key: Key | None = None
    harmonies: list[tuple[Fraction, HarmonyRead]] = field(default_factory=list)
    holds: set[Fraction] = field(default_factory=set)
    chokes: set[Fraction] = field(default_factory=set)
    anticipations: set[Fraction] = field(default_factory=set)
    says_push: set[Fraction] = field(default_factory=set)
    slashes: set[Fraction] = field(default_factory=set)
    accents: set[Fraction] = field(default_factory=set)
    words: list[str] = field(default_factory=list)
    section_words: list[str] = field(default_factory=list)
    hits: str = ""
    section: str = ""
    is_pickup: bool = False
    fades: bool = False
    new_system: bool = False
    starts_phrase: bool = False
    ends_phrase: bool = False
    copies: int = 0
    repeat: Repeat = Repeat()


@dataclass(slots=True)
class Score:
    """What is read from a file before it becomes a chart.

    `tempo` is in quarters a minute; `transposed` is by how many semitones the part sounds higher
    than it is written. `placed_comments` are comments by section and phrase, from 1; a phrase of 0
    is the section itself, and a section of 0 the song.
    """

    title: str
    measures: list[Measure]
    tempo: Fraction | None = None
    song_meter: tuple[int, int] | None = None
    feel_words: list[str] = field(default_factory=list)
    transposed: int = 0
    capo: int | None = None
    count_off: int = 1
    placed_comments: list[tuple[int, int, str]] = field(default_factory=list)
