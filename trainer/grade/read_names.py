"""Name what is written as it is read where a chart is counted from another 1 than the song.

A sonority of such a chart is moved, so that it can be compared with the song's; its chord is still
the one that is written.
"""

from __future__ import annotations

from dataclasses import replace

from trainer.chart.chords import Degree
from trainer.chart.format import join_chords
from trainer.chart.model import Bar, Chord
from trainer.grade.content import BarContent, Sonority, note_name
from trainer.grade.mistakes import bar_text
from trainer.grade.note_spelling import degree_named

__all__ = ["read_bar", "read_chord", "read_name"]


def read_chord(chord: Chord, shift: int) -> Chord:
    """Return a chord as it is read, `shift` semitones higher than it is written."""
    if shift % 12 == 0:
        return chord
    root = _moved(chord.root, shift)
    bass = None if chord.bass is None else _moved(chord.bass, shift)
    # #5/b6 has two names for one note, which is named once when it is moved.
    bass = None if bass == root else bass
    return replace(chord, degree=root.number, alteration=root.alteration, bass=bass)


def _moved(degree: Degree, shift: int) -> Degree:
    return degree_named(note_name(degree.semitones + shift))


def read_name(written: Sonority, shift: int) -> str:
    """Return a chord as read: "4 (b7 in your numbers)" if that is not what is written."""
    if shift % 12 == 0 or written.chord is None:
        return written.name
    return f"{read_chord(written.chord, shift)} ({written.name} in your numbers)"


def read_bar(played: BarContent, written: BarContent) -> str:
    """Return a bar as read, "(4 5) (b7 1 in your numbers)" if that is not what is written."""
    text = bar_text(written.bar)
    shift = (_bar_shift(written) - _bar_shift(played)) % 12
    if shift == 0:
        return text
    bar: Bar = written.bar
    chords = [event.chord for event in bar.events]
    names = ["0" if chord is None else str(read_chord(chord, shift)) for chord in chords]
    ticks = ["" if bar.is_even else "'" * int(event.beats) for event in bar.events]
    read = join_chords([*map(str.__add__, names, ticks)])
    return f"{read} ({text.strip('()')} in your numbers)"


def _bar_shift(content: BarContent) -> int:
    """Return by how much the chords of a bar are read higher than they are written."""
    return next((shift for one in content.sonorities if (shift := one.shift)), 0)
