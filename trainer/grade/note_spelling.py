"""Spell the notes of a chord by their steps above its root: the third of 6 is #1, not b2."""

from __future__ import annotations

from functools import lru_cache

from trainer.chart.chords import Chord, Degree, chord_intervals
from trainer.grade.content import note_name

__all__ = ["degree_named", "note_names_in"]

MOST_CACHED = 1 << 12
# Which step above the root an interval is, in semitones; 13 and above are ninths and higher.
STEPS = {
    0: 1,
    2: 2,
    3: 3,
    4: 3,
    5: 4,
    6: 5,
    7: 5,
    8: 5,
    9: 6,
    10: 7,
    11: 7,
    13: 2,
    14: 2,
    15: 2,
    17: 4,
    21: 6,
}
DIMINISHED_SEVENTH = 9


def degree_named(name: str) -> Degree:
    """Return the degree that a note's name stands for: "b7" is the flat seventh."""
    return Degree(int(name[-1]), {"": 0, "#": 1, "b": -1}[name[:-1]])


@lru_cache(maxsize=MOST_CACHED)
def _spelling(chord: Chord) -> dict[int, str]:
    """Return the names of a chord's notes, its bass among them, by pitch class."""
    root, names = chord.root, {}
    if chord.bass is not None:
        names[chord.bass.semitones] = str(chord.bass)
    for interval in chord_intervals(chord):
        step = STEPS[interval]
        if chord.quality == "o" and interval == DIMINISHED_SEVENTH:
            step = 7
        number = (root.number + step - 2) % 7 + 1
        pitch_class = (root.semitones + interval) % 12
        # How far the note lies above (or below) the natural note of its step: -6 to 5.
        alteration = (pitch_class - Degree(number).semitones + 6) % 12 - 6
        if abs(alteration) <= 1:
            names[pitch_class] = str(Degree(number, alteration))
        else:
            names[pitch_class] = note_name(pitch_class)
    return names


def note_names_in(chord: Chord, notes: int) -> tuple[str, ...]:
    """Return the names of a set of notes, as a chord spells them, from the tonic upwards.

    Notes that are not in the chord have their usual names.

    >>> note_names_in(Chord(6), 1 << 9 | 1 << 1 | 1 << 4)
    ('#1', '3', '6')
    """
    names = _spelling(chord)
    return tuple(names.get(note) or note_name(note) for note in range(12) if notes >> note & 1)
