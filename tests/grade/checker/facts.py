"""What the checker of advice knows: two charts, the cited places, pitch arithmetic of its own.

Nothing here comes from grading. Bars count from 1.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from typing import Protocol

from trainer.chart import Articulation, Bar, Chart, Chord, Event, parse, pitch_classes

__all__ = [
    "BARS",
    "CHORD",
    "NUMBERS",
    "CitedPlace",
    "FalseSentence",
    "Reading",
    "bars_in",
    "bass",
    "chord",
    "demand",
    "listed",
    "move_text",
    "note",
    "notes",
    "number",
    "root",
    "same_sound",
    "sounds",
    "spelled",
    "text_of",
    "with_bass",
]

USUAL_NAMES = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
LETTERS = {Articulation.HOLD: "d", Articulation.PUSH: "p", Articulation.CHOKE: "c"}
CHORD = r"(?:0|[#b]?[1-7][-o+ø]?(?:\^[a-z0-9#]+)?(?:/[#b]?[1-7])?)"
BAR = r"(?:\([^()]+\)|[^\s(),;.]+)"
KEY_MOVE = r"(?:up|down) \d+"
RUN = r"\d+(?:–\d+)?"
BARS = rf"[Bb]ars? {RUN}(?:, {RUN})*(?: and {RUN})?"


class FalseSentence(AssertionError):
    """A sentence that is not so, or that is not known."""


class CitedPlace(Protocol):
    """A place that advice cites: bars from 1, and what stands there."""

    @property
    def reference(self) -> int | None:
        """The bar of the song."""

    @property
    def answer(self) -> int | None:
        """The bar of the answer."""

    @property
    def played(self) -> str:
        """What was played: a bar or a chord of it."""

    @property
    def written(self) -> str:
        """What is written: a bar or a chord of it."""


def demand(true: object, what: str) -> None:
    """Raise FalseSentence unless something is so."""
    if not true:
        raise FalseSentence(what)


def number(word: str) -> int:
    """A number in words or digits."""
    return NUMBERS.index(word) if word in NUMBERS else int(word)


def listed(text: str) -> list[str]:
    """The items of "a, b and c"."""
    return [item for item in re.split(r", | and ", text) if item]


def chord(text: str) -> Chord | None:
    """A chord by its text, None for silence."""
    if text == "0":
        return None
    return parse(text).bars()[0].events[0].chord


def root(one: Chord | None) -> int:
    """The root as semitones above the 1, -1 for silence."""
    return -1 if one is None else one.root.semitones


def bass(one: Chord | None) -> int:
    """The lowest note, -1 for silence."""
    if one is None:
        return -1
    return (one.root if one.bass is None else one.bass).semitones


def notes(one: Chord | None) -> set[int]:
    """The chord's notes without its bass."""
    return set() if one is None else set(pitch_classes(replace(one, bass=None)))


def with_bass(one: Chord | None) -> set[int]:
    """All notes that sound, the bass among them."""
    return set() if one is None else notes(one) | {bass(one)}


def note(name: str) -> int:
    """A note's name as semitones above the 1: "#1" is 1."""
    natural = (0, 2, 4, 5, 7, 9, 11)[int(name[-1]) - 1]
    return (natural + {"": 0, "#": 1, "b": -1}[name[:-1]]) % 12


def spelled(one: Chord, name: str) -> bool:
    """Whether a note of a chord goes by the right number: the third of 6 is #1, not b2.

    A third is two numbers above the root, a fifth four, a seventh six, whatever their signs.
    Notes whose number would need two signs, and those that are no tones of the chord, go by their
    usual names; a bass under a slash goes by the name that it is written with.
    """
    interval = (note(name) - root(one)) % 12
    if one.bass is not None and str(one.bass) == name and note(name) not in notes(one):
        return True
    if note(name) not in notes(one):
        return USUAL_NAMES[note(name)] == name
    minor_ninth_or_more = one.extension in ("7b9", "7#9")
    above = {1: 1, 2: 1, 3: 1 if one.extension == "7#9" else 2, 4: 2, 5: 3, 6: 4, 7: 4, 8: 4}
    above |= {0: 0, 9: 6 if one.quality == "o" else 5, 10: 6, 11: 6}
    demand(interval != 1 or minor_ninth_or_more, f"{one} has no flat ninth")
    number = (one.degree - 1 + above[interval]) % 7 + 1
    names = [
        sign + str(number) for sign in ("", "#", "b") if note(sign + str(number)) == note(name)
    ]
    return name in (names or [USUAL_NAMES[note(name)]])


def same_sound(one: Chord | None, other: Chord | None) -> bool:
    """Whether two chords have the same pitch classes and the same bass."""
    return bass(one) == bass(other) and notes(one) | {bass(one)} == notes(other) | {bass(other)}


def sounds(bar: Bar) -> list[Chord | None]:
    """The chords of a bar as they change, a chord that goes on counted once."""
    found: list[Chord | None] = []
    for event in bar.events:
        if not found or not same_sound(found[-1], event.chord):
            found.append(event.chord)
    return found


def bars_in(text: str) -> list[str]:
    """The bars of a text in notation, each as it stands there."""
    return re.findall(BAR, text)


def move_text(semitones: int) -> str:
    """A move of the key in notation, without its brackets."""
    return f"{'down' if semitones < 0 else 'up'} {abs(semitones)}"


def text_of(bar: Bar) -> str:
    """A bar in notation, without its meter and key."""
    if bar.is_open:
        return "?"
    parts = []
    for event in bar.events:
        parts.append("0" if event.chord is None else str(event.chord))
        parts[-1] += "" if bar.is_even else "'" * int(event.beats)
        parts[-1] += LETTERS[event.articulation] if event.articulation else ""
    return parts[0] if len(parts) == 1 else f"({' '.join(parts)})"


@dataclass
class Reading:
    """One piece of advice while it is read, sentence by sentence.

    `cases` are the places that it cites, `all_cases` those of all advice on the answer. `bars` are
    the bars of the song that the sentence before was about, `pairs` its chords, played and written
    (as read). `more_bars` is by how many bars the answer should be longer than the song, by what
    was said so far. With `is_shifted` the answer is said to be counted from another 1, and its
    chords are compared as read from there; with `is_recounted` bars of it are said to be counted
    double or half, and `recounted` holds what is written for bars of the song when that is undone.
    """

    reference: Chart
    answer: Chart
    cases: Sequence[CitedPlace]
    all_cases: Sequence[CitedPlace]
    bars: list[int] = field(default_factory=list)
    pairs: list[tuple[str, str]] = field(default_factory=list)
    more_bars: int = 0
    is_shifted: bool = False
    is_recounted: bool = False
    recounted: Mapping[int, Bar] = field(default_factory=dict)

    @cached_property
    def song(self) -> tuple[Bar, ...]:
        """The bars of the song."""
        return self.reference.bars()

    @cached_property
    def own(self) -> tuple[Bar, ...]:
        """The bars of the answer."""
        return self.answer.bars()

    def song_bar(self, bar: int) -> Bar:
        """A bar of the song."""
        demand(1 <= bar <= len(self.song), f"the song has no bar {bar}")
        return self.song[bar - 1]

    def own_bar(self, bar: int) -> Bar:
        """A bar of the answer."""
        demand(1 <= bar <= len(self.own), f"the answer has no bar {bar}")
        return self.own[bar - 1]

    @property
    def cited(self) -> list[int]:
        """The bars of the song that are cited, in order."""
        return sorted({one.reference for one in self.cases if one.reference is not None})

    @property
    def cited_own(self) -> list[int]:
        """The bars of the answer that are cited, in order."""
        return sorted({one.answer for one in self.cases if one.answer is not None})

    def rows(self) -> Iterable[tuple[CitedPlace, Bar, Bar]]:
        """The cases that have both sides, with their bars, those recounted that are said to be."""
        for one in self.cases:
            if one.reference is not None and one.answer is not None:
                own = self.written_for(one.reference, one.answer)
                yield one, self.song_bar(one.reference), own

    def written_for(self, bar: int, own: int) -> Bar:
        """What is written for a bar of the song, in a bar of the answer or in some recounted."""
        return self.recounted.get(bar) or self.own_bar(own)

    def read_bars(self, text: str, cited: Sequence[int]) -> list[int]:
        """The bars that a text names: those `cited`."""
        named: list[int] = []
        for first, last in re.findall(r"(\d+)(?:–(\d+))?", text):
            named += range(int(first), int(last or first) + 1)
        demand(len(named) == len(set(named)), f"{text!r} names a bar twice")
        demand(named == list(cited), f"{text!r} is said of bars {list(cited)}")
        noun = "bar" if len(cited) == 1 else "bars"
        demand(text.split(maxsplit=1)[0].lower() == noun, f"{text!r}: number")
        return list(cited)

    def section_at(self, bar: int) -> tuple[str, int]:
        """The name of the section that a bar of the song stands in, and its number in there."""
        places = list(self.reference.placed_bars())
        here = places[bar - 1]
        inside = sum(place.section == here.section for place in places[:bar])
        return self.reference.sections[here.section].name, inside

    def check_section(self, named: str | None) -> None:
        """Check "(Chorus)" or "(bar 3 of Chorus)" behind the bars."""
        if named is None:
            return
        where = {self.section_at(bar)[0] for bar in self.bars}
        inside = re.fullmatch(r"bar (\d+) of (.*)", named)
        if inside and inside[2] in where and len(self.bars) == 1:
            demand(where == {inside[2]}, f"bars {self.bars} are not in {inside[2]}")
            demand(self.section_at(self.bars[0])[1] == int(inside[1]), f"not {named!r}")
        else:
            demand(where == {named}, f"bars {self.bars} are in {where}, not in {named!r}")

    def song_phrases(self) -> list[tuple[int, int]]:
        """The first and last bar of each phrase of the song."""
        return phrases(self.reference)

    def bars_with(self, name: str) -> list[int]:
        """The bars of the song in which a chord sounds."""
        wanted = chord(name)
        return [
            k + 1
            for k, bar in enumerate(self.song)
            if any(same_sound(wanted, event.chord) for event in bar.events)
        ]


def phrases(chart: Chart) -> list[tuple[int, int]]:
    """The first and last bar of each phrase of a chart."""
    found, at = [], 0
    for section in chart.sections:
        for phrase in section.phrases:
            found.append((at + 1, at + len(phrase.bars)))
            at += len(phrase.bars)
    return found


def spans(bar: Bar, text: str) -> list[tuple[Fraction, Fraction]]:
    """Where a chord sounds in a bar, as shares of it."""
    return [
        (start / bar.meter.beats, (start + event.beats) / bar.meter.beats)
        for start, event in zip(bar.starts(), bar.events, strict=True)
        if name_of(event) == text
    ]


def name_of(event: Event) -> str:
    """A chord's text, "0" for silence."""
    return "0" if event.chord is None else str(event.chord)


def at_once(played: Bar, written: Bar, one: str, other: str) -> bool:
    """Whether two chords sound at the same time in two bars laid over each other."""
    return any(
        start < other_end and other_start < end
        for start, end in spans(played, one)
        for other_start, other_end in spans(written, other)
    )
