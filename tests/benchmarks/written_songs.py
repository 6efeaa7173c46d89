"""Songs as they are written, real and generated ones in one form.

A song is a mode and sections of lines of bars. What only the annotators or only our charts write is
left out: labels for one thing are mapped, power chords and augmented chords count as plain ones,
extensions count as one of a few classes, and holds, pushes and chokes are dropped.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from trainer.chart import Chart, Chord

__all__ = ["Bar", "Event", "Section", "WrittenSong", "read_chart", "read_corpus"]

DEGREES = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
CHORD = re.compile(r"([b#]?[1-7])(sus|[-oh+p]?)(?:\^([^/]+))?(?:/([b#]?[1-7]))?$")
# One name for sections that do one thing.
KINDS = {
    "refrain": "chorus",
    "instrumental": "solo",
    "transition": "interlude",
    "pre-verse": "interlude",
    "turnaround": "interlude",
    "tag": "outro",
    "unlabelled": "verse",
    "other": "verse",
}
EXTENSIONS = {"": "", "7": "7", "maj7": "maj7", "6": "6", "9": "9", "maj9": "9", "add9": "add9"}


class Event(NamedTuple):
    """A chord: degree with - or o ("" for silence), extension class, bass ("" for the root), share
    of its bar."""

    chord: str
    extension: str
    bass: str
    share: float

    @property
    def written(self) -> str:
        """The chord with its extension and bass."""
        return f"{self.chord}^{self.extension}/{self.bass}"


Bar = tuple[Event, ...]
Line = tuple[Bar, ...]


class Section(NamedTuple):
    """A section: its kind, its lines, and how many bars are in a meter that is not the song's."""

    kind: str
    lines: tuple[Line, ...]
    irregular: int
    shift: int


class WrittenSong(NamedTuple):
    """A song: whether its 1 is minor, and its sections in order."""

    minor: bool
    sections: tuple[Section, ...]

    def lines(self) -> Iterator[Line]:
        """Give every line in order."""
        for section in self.sections:
            yield from section.lines

    def bars(self) -> list[Bar]:
        """Give every bar in order."""
        return [bar for line in self.lines() for bar in line]


def read_corpus(folder: Path) -> list[WrittenSong]:
    """Read the songs of the corpus."""
    songs = []
    for song in json.loads((folder / "sequences.json").read_text("utf-8"))["songs"]:
        sections = []
        for section in song["sections"]:
            minor = section.get("mode", song["mode"]) == "minor"
            shift = section.get("key_shift_semitones", 0)
            sections.append(
                Section(
                    KINDS.get(section["type"], section["type"]),
                    tuple(
                        tuple(_corpus_bar(bar, minor) for bar in line) for line in section["lines"]
                    ),
                    sum(bar.startswith("(") for line in section["lines"] for bar in line),
                    (shift[0] if isinstance(shift, list) else shift) % 12,
                )
            )
        songs.append(WrittenSong(song["mode"] == "minor", tuple(sections)))
    return songs


def _corpus_bar(text: str, minor: bool) -> Bar:
    """Read one bar of the corpus. In minor a power chord on 1, 4 or 5 is minor."""
    parts = re.sub(r"^\(\S+\) ", "", text).split()
    weights = [float(part.partition("*")[2] or 1) for part in parts]
    events = []
    for part, weight in zip(parts, weights, strict=True):
        found = CHORD.match(part.partition("*")[0])
        if not found:
            events.append(Event("", "", "", weight / sum(weights)))
            continue
        degree, quality, extension, bass = found.groups()
        suffix = {"-": "-", "o": "o", "h": "o"}.get(quality, "")
        if quality == "p" and minor and degree in ("1", "4", "5"):
            suffix = "-"
        added = "sus" if quality == "sus" else EXTENSIONS.get(extension or "", "")
        added = "" if suffix == "o" else added
        bass = "" if bass == degree else bass or ""
        events.append(Event(degree + suffix, added, bass, weight / sum(weights)))
    return merged(events)


def merged(events: list[Event]) -> Bar:
    """Return the events with a chord written again taken as one."""
    made: list[Event] = []
    for event in events:
        if made and made[-1].written == event.written:
            made[-1] = made[-1]._replace(share=made[-1].share + event.share)
        else:
            made.append(event)
    return tuple(made)


def read_chart(chart: Chart) -> WrittenSong:
    """Read a generated chart."""
    sections = []
    shift = 0
    for section in chart.sections:
        bars = [bar for phrase in section.phrases for bar in phrase.bars]
        shift += bars[0].key_change
        sections.append(
            Section(
                KINDS.get(section.kind, section.kind),
                tuple(
                    tuple(
                        merged(
                            [
                                _event(event.chord, float(event.beats / bar.meter.beats))
                                for event in bar.events
                            ]
                        )
                        for bar in phrase.bars
                    )
                    for phrase in section.phrases
                ),
                sum(bar.meter != chart.meter for bar in bars),
                shift % 12,
            )
        )
    return WrittenSong(chart.key.minor, tuple(sections))


def _event(chord: Chord | None, share: float) -> Event:
    """Read one chord of a chart."""
    if chord is None:
        return Event("", "", "", share)
    suffix = {"-": "-", "o": "o", "ø": "o"}.get(chord.quality, "")
    added = "sus" if "sus" in chord.extension else EXTENSIONS.get(chord.extension, "")
    root = DEGREES[chord.root.semitones]
    bass = DEGREES[chord.bass.semitones] if chord.bass else ""
    return Event(root + suffix, "" if suffix == "o" else added, bass, share)
