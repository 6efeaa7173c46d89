"""The corpus of chord annotations, read into songs.

The corpus is a folder with `sequences.json`: anonymous bar-by-bar sequences of the McGill Billboard
annotations 2.0 (Burgoyne, Wild and Fujinaga, ISMIR 2011, CC0).
"""

from __future__ import annotations

import json
import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

__all__ = ["Bar", "CountsByContext", "Event", "Section", "Song", "read_songs"]

# The corpus's section types, and ours.
KINDS = {
    "intro": "intro",
    "verse": "verse",
    "refrain": "chorus",
    "chorus": "chorus",
    "pre-chorus": "pre-chorus",
    "bridge": "bridge",
    "solo": "solo",
    "instrumental": "solo",
    "interlude": "interlude",
    "transition": "turnaround",
    "pre-verse": "turnaround",
    "outro": "outro",
}
CHORD = re.compile(r"([b#]?[1-7])(sus|[-oh+p]?)(?:\^([^/]+))?(?:/([b#]?[1-7]))?$")


class Event(NamedTuple):
    """A chord of the corpus: degree with - or o, extension, bass ("" for the root) and beats.

    `chord` "" is no chord.
    """

    chord: str
    extension: str
    bass: str
    beats: float


class Bar(NamedTuple):
    """A bar: its events, and whether its meter is the song's own."""

    events: tuple[Event, ...]
    regular: bool


class Section(NamedTuple):
    """A section: kind, mode, semitones the key has moved, letter of likeness, lines of bars.

    A line is a phrase. `fades` says whether the recording fades out in it.
    """

    kind: str
    mode: str
    key_shift: int
    letter: str
    fades: bool
    lines: list[list[Bar]]


class Song(NamedTuple):
    """A song: its meter and its sections."""

    meter: str
    sections: list[Section]

    def lines(self) -> Iterator[list[Bar]]:
        """Give every line of the song, in order."""
        for section in self.sections:
            yield from section.lines


def read_songs(folder: Path) -> list[Song]:
    """Read all songs of the corpus."""
    data = json.loads((folder / "sequences.json").read_text(encoding="utf-8"))
    songs = []
    for song in data["songs"]:
        sections = []
        for section in song["sections"]:
            mode = section.get("mode", song["mode"])
            shift = section.get("key_shift_semitones", 0)
            sections.append(
                Section(
                    KINDS.get(section["type"], "verse"),
                    "minor" if mode == "minor" else "major",
                    shift[0] if isinstance(shift, list) else shift,
                    section["letter"],
                    bool(section.get("fade")),
                    [
                        [_read_bar(bar, song["metre"], mode == "minor") for bar in line]
                        for line in section["lines"]
                    ],
                )
            )
        songs.append(Song(song["metre"], sections))
    return songs


def _read_bar(text: str, meter: str, minor: bool) -> Bar:
    """Read one bar of a line; a meter of its own stands before it in brackets."""
    own = re.match(r"\((\S+)\) ", text)
    beats = float((own.group(1) if own else meter).split("/")[0])
    parts = text[own.end() :].split() if own else text.split()
    events = []
    for part in parts:
        token, _, written = part.partition("*")
        events.append(_read_event(token, float(written) if written else beats / len(parts), minor))
    return Bar(tuple(events), own is None)


def _read_event(text: str, beats: float, minor: bool) -> Event:
    """Read one chord; sevenths, sus, power chords and augmented are folded into degree and - or o.

    A power chord takes its third from the mode: minor on 1, 4 and 5 of a minor section.
    """
    found = CHORD.match(text)
    if not found:
        return Event("", "", "", beats)
    degree, quality, extension, bass = found.groups()
    if quality == "p" and minor and degree in ("1", "4", "5"):
        quality = "-"
    chord = degree + {"-": "-", "o": "o", "h": "o"}.get(quality, "")
    name = {"sus": "sus4", "p": "5", "h": "h", "+": "+", "o": "o", "-": ""}.get(quality, "")
    return Event(chord, f"{name} {extension or ''}".strip(), bass or "", beats)


class CountsByContext(defaultdict[str, Counter[str]]):
    """Counts of names, a counter for each context."""

    def __init__(self) -> None:
        super().__init__(Counter)

    def table(self, least: int = 1) -> dict[str, dict[str, int]]:
        """Return plain dictionaries, the most frequent first, without counts under `least`."""
        plain = {}
        for context in sorted(self):
            ranked = sorted(self[context].items(), key=lambda item: (-item[1], item[0]))
            row = {name: count for name, count in ranked if count >= least}
            if row:
                plain[context] = row
        return plain
