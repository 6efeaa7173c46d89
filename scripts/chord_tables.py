"""Count the chords of the corpus: n-grams, phrase starts and ends, sets, extensions, basses."""

from __future__ import annotations

from collections import Counter
from typing import Any, NamedTuple

from corpus import Bar, CountsByContext, Event, Song

__all__ = ["count_chords"]

# The tables, and the least count that each keeps.
LEAST_COUNTS = {
    "bigram": 1,
    "placed": 2,
    "trigram": 2,
    "start": 2,
    "section_start": 2,
    "phrase_end": 3,
    "section_end": 2,
    "extension": 8,
    "bass": 6,
    "bass_from": 3,
    "bass_to": 3,
}


class Change(NamedTuple):
    """A chord change: the new chord, the class of its place in its line, its duration in bars."""

    chord: str
    place: str
    bars: float


class ModeCounts:
    """The counts of one mode, song by song."""

    def __init__(self, mode: str) -> None:
        self.mode = mode
        self.chords: Counter[str] = Counter()
        self.sets: Counter[str] = Counter()
        self.tables = {name: CountsByContext() for name in LEAST_COUNTS}

    def add_song(self, song: Song) -> None:
        """Count the chords of a song in this mode."""
        before: list[str] = []
        used: set[str] = set()
        key: tuple[str, int] | None = None
        for section in song.sections:
            for index, line in enumerate(section.lines):
                if (section.mode, section.key_shift) != key:
                    before, key = [], (section.mode, section.key_shift)
                changes = changes_of(line)
                if section.mode != self.mode or not changes:
                    continue
                self._count_start(section.kind, index == 0, before, changes[0].chord)
                used |= {change.chord for change in changes}
                for change in changes:
                    before = self._count_change(before, change)
                end = "section_end" if index == len(section.lines) - 1 else "phrase_end"
                self.tables[end][section.kind][changes[-1].chord] += 1
                self._count_events(line)
        if used:
            self.sets[" ".join(sorted(used))] += 1

    def _count_start(self, kind: str, is_section: bool, before: list[str], chord: str) -> None:
        """Count the first chord of a line by the one before it, or by the kind of its section."""
        starts = self.tables["start"]
        if not is_section:
            starts[before[-1] if before else "none"][chord] += 1
            return
        self.tables["section_start"][kind][chord] += 1
        if before:
            starts["section " + before[-1]][chord] += 1

    def _count_change(self, before: list[str], change: Change) -> list[str]:
        """Count a change after up to two chords before it; return those for the next."""
        if before and before[-1] == change.chord:
            return before
        self.chords[change.chord] += 1
        if before:
            self.tables["bigram"][before[-1]][change.chord] += 1
            if change.place != "s":
                context = change.place + duration_class(change.bars)
                self.tables["placed"][f"{context} {before[-1]}"][change.chord] += 1
        if len(before) > 1:
            self.tables["trigram"][f"{before[-2]} {before[-1]}"][change.chord] += 1
        return [*before[-1:], change.chord]

    def _count_events(self, line: list[Bar]) -> None:
        """Count extensions by time, and basses by the bass before and after them."""
        events = [event for bar in line for event in bar.events if event.chord]
        for at, event in enumerate(events):
            extension = event.extension or "plain"
            self.tables["extension"][event.chord][extension] += round(4 * event.beats)
            if not event.bass:
                continue
            name = f"{event.chord}/{event.bass}"
            self.tables["bass"][event.chord][event.bass] += 1
            if at:
                self.tables["bass_from"][name][bass_of(events[at - 1])] += 1
            if at + 1 < len(events):
                self.tables["bass_to"][name][bass_of(events[at + 1])] += 1

    def table(self) -> dict[str, Any]:
        """Return all counts as plain dictionaries."""
        ranked = sorted(self.chords.items(), key=lambda item: (-item[1], item[0]))
        kept = {name: self.tables[name].table(least) for name, least in LEAST_COUNTS.items()}
        return {"unigram": dict(ranked), "sets": dict(sorted(self.sets.items())), **kept}


def count_chords(songs: list[Song]) -> dict[str, Any]:
    """Return the chord counts of each mode."""
    tables = {}
    for mode in ("major", "minor"):
        counts = ModeCounts(mode)
        for song in songs:
            counts.add_song(song)
        tables[mode] = counts.table()
    return tables


def changes_of(line: list[Bar]) -> list[Change]:
    """Return the chord changes of a line; a chord written again is no change."""
    found: list[list[Any]] = []
    for index, bar in enumerate(line):
        at = 0.0
        total = sum(event.beats for event in bar.events)
        for event in bar.events:
            if event.chord and (not found or found[-1][0] != event.chord):
                found.append([event.chord, place_class(index, len(line), at), 0.0])
            if found:
                found[-1][2] += event.beats / total
            at += event.beats
    return [Change(*entry) for entry in found]


def place_class(index: int, count: int, at: float) -> str:
    """Return the class of a place in a phrase.

    On a bar line: s at the start, o on an odd bar, e on an even bar, l on the last bar. Inside a
    bar: n in the last bar, m in another.
    """
    if at > 0:
        return "n" if index == count - 1 else "m"
    if index == 0:
        return "s"
    return "l" if index == count - 1 else "oe"[(index + 1) % 2]


def duration_class(bars: float) -> str:
    """Return the class of a duration: 0 under a bar, 1 a bar, 2 two bars or more."""
    return "0" if bars < 0.99 else "1" if bars < 1.99 else "2"


def bass_of(event: Event) -> str:
    """Return the bass degree of an event."""
    return event.bass or event.chord.rstrip("-o")
