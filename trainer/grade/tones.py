"""Shared-tone arithmetic: what a chord sounds, counted in semitones above the home note.

A set of pitch classes is a number of 12 bits (bit 0 is the home note). Spelling is gone here: #4
and b5 are the same. No chord is a sound with no notes, no root and no bass.
"""

from __future__ import annotations

from dataclasses import dataclass

from trainer.chart.chords import intervals
from trainer.chart.model import Chord

__all__ = ["SILENCE", "Sound", "likeness", "note_name", "note_names", "shared", "sound_of"]

NOTE_NAMES = ("1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7")
PLAIN_MINOR_ROOTS = frozenset({2, 4, 9})


@dataclass(frozen=True, slots=True)
class Sound:
    """What a chord sounds. Root and bass are pitch classes, -1 for none.

    `tones` are the chord's own notes; `sounding` has the bass too; `name` is the chord as written.
    """

    root: int
    bass: int
    tones: int
    sounding: int
    chord: Chord | None
    name: str

    def same_as(self, other: Sound) -> bool:
        """Whether both have the same pitch classes and the same bass: the same chord."""
        return self.bass == other.bass and self.sounding == other.sounding

    def __str__(self) -> str:
        return self.name


SILENCE = Sound(-1, -1, 0, 0, None, "0")


def sound_of(chord: Chord | None, shift: int = 0) -> Sound:
    """The sound of a chord, moved up by `shift` semitones."""
    if chord is None:
        return SILENCE
    root = (chord.root.semitones + shift) % 12
    bass = root if chord.bass is None else (chord.bass.semitones + shift) % 12
    tones = 0
    for interval in intervals(chord.quality, chord.extension):
        tones |= 1 << (root + interval) % 12
    return Sound(root, bass, tones, tones | 1 << bass, chord, str(chord))


def shared(one: Sound, other: Sound) -> int:
    """The notes that two chords have in common, basses left out."""
    return one.tones & other.tones


def likeness(one: Sound, other: Sound) -> float:
    """Notes in common over all notes of both chords (Jaccard index), basses left out; 0 to 1.

    >>> likeness(sound_of(Chord(4)), sound_of(Chord(2, quality="-")))
    0.5
    """
    either = (one.tones | other.tones).bit_count()
    return (one.tones & other.tones).bit_count() / either if either else 1.0


def as_plain_minor(written: Sound, played: Sound) -> Sound:
    """The written chord as a house means it that writes a plain 2, 3 or 6 for the minor chord."""
    one, other = written.chord, played.chord
    if (
        one is None
        or other is None
        or one.quality
        or other.quality != "-"
        or written.root != played.root
        or one.root.semitones not in PLAIN_MINOR_ROOTS
    ):
        return written
    shift = written.root - one.root.semitones
    extension = one.extension if one.extension in ("", "6", "7", "9", "11", "add9") else None
    if extension is None:
        return written
    return sound_of(Chord(one.degree, one.alteration, "-", extension, one.bass), shift)


def note_name(pitch_class: int) -> str:
    """The usual name of a note by its place in the major scale of home."""
    return NOTE_NAMES[pitch_class % 12]


def note_names(notes: int) -> tuple[str, ...]:
    """The names of a set of notes, from the home note upwards."""
    return tuple(NOTE_NAMES[note] for note in range(12) if notes >> note & 1)
