"""Songs in the form in which `idiom` compares them: those of the corpus, and generated charts."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import NamedTuple

from trainer.chart import Chart, Chord

__all__ = ["Bar", "Event", "Line", "Song", "bar_key", "read_chart", "read_corpus"]

DEGREES = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
CHORD = re.compile(r"([b#]?[1-7])(sus|[-oh+p]?)")


class Event(NamedTuple):
    """A chord: degree with - or o, bass ("" for the root), share of its bar."""

    chord: str
    bass: str
    share: float


Bar = tuple[Event, ...]


class Line(NamedTuple):
    """A phrase: number and kind of its section, mode, semitones the key has moved, bars."""

    section: int
    kind: str
    mode: str
    shift: int
    bars: list[Bar]


Song = list[Line]


def read_corpus(folder: Path) -> list[Song]:
    """Read the songs of the corpus. Sections that fade out count as they are written."""
    songs = []
    for song in json.loads((folder / "sequences.json").read_text("utf-8"))["songs"]:
        lines = []
        for number, section in enumerate(song["sections"]):
            shift = section.get("key_shift_semitones", 0)
            mode = section.get("mode", song["mode"])
            lines += [
                Line(
                    number,
                    section["type"],
                    "minor" if mode == "minor" else "major",
                    shift[0] if isinstance(shift, list) else shift,
                    [_corpus_bar(bar, mode == "minor") for bar in line],
                )
                for line in section["lines"]
            ]
        songs.append(lines)
    return songs


def _corpus_bar(text: str, minor: bool) -> Bar:
    """Read one bar of the corpus. In minor a power chord on 1, 4 or 5 is minor."""
    parts = re.sub(r"^\(\S+\) ", "", text).split()
    events = []
    for part in parts:
        token, _, beats = part.partition("*")
        name, _, bass = token.partition("/")
        found = CHORD.match(name)
        quality = {"-": "-", "o": "o", "h": "o"}.get(found[2], "") if found else ""
        if found and found[2] == "p" and minor and found[1] in ("1", "4", "5"):
            quality = "-"
        chord = found[1] + quality if found else ""
        events.append((chord, bass, float(beats) if beats else 1.0))
    total = sum(beats for _, _, beats in events)
    return tuple(Event(chord, bass, beats / total) for chord, bass, beats in events)


def read_chart(chart: Chart) -> Song:
    """Read a generated chart as a song of the corpus."""
    shift = 0
    lines = []
    for number, section in enumerate(chart.sections):
        for phrase in section.phrases:
            shift += phrase.bars[0].key_change
            bars = [
                tuple(
                    Event(
                        _reduced_chord(event.chord),
                        DEGREES[event.chord.bass.semitones] if event.chord.bass else "",
                        float(event.beats / bar.meter.beats),
                    )
                    for event in bar.events
                    if event.chord
                )
                for bar in phrase.bars
            ]
            kind = {"tag": "outro"}.get(section.kind, section.kind)
            mode = "minor" if chart.key.minor else "major"
            lines.append(Line(number, kind, mode, shift, bars))
    return lines


def _reduced_chord(chord: Chord) -> str:
    """Return degree with - or o, to which the chords of the corpus are reduced, too."""
    return DEGREES[chord.root.semitones] + {"-": "-", "o": "o", "ø": "o"}.get(chord.quality, "")


def bar_key(bar: Bar) -> str:
    """Return the chords of a bar, a chord written again left out."""
    names = [event.chord for event in bar]
    return " ".join(name for at, name in enumerate(names) if not at or name != names[at - 1])
