"""Chords by degree turned into pitch classes."""

from __future__ import annotations

from trainer.chart.model import Chord
from trainer.chart.vocabulary import intervals

__all__ = ["bass_pitch_class", "chord_intervals", "pitch_classes", "root_pitch_class"]


def chord_intervals(chord: Chord) -> tuple[int, ...]:
    """Semitones above the root, rising, root included; the bass is left out."""
    return intervals(chord.quality, chord.extension)


def root_pitch_class(chord: Chord, key_pitch_class: int = 0) -> int:
    """Pitch class of the root, C = 0, in the key whose 1 is `key_pitch_class`."""
    return (key_pitch_class + chord.root.semitones) % 12


def bass_pitch_class(chord: Chord, key_pitch_class: int = 0) -> int:
    """Pitch class of the lowest note: the slash degree, else the root."""
    lowest = chord.root if chord.bass is None else chord.bass
    return (key_pitch_class + lowest.semitones) % 12


def pitch_classes(chord: Chord, key_pitch_class: int = 0) -> frozenset[int]:
    """Pitch classes of all tones, the slash bass among them."""
    root = root_pitch_class(chord, key_pitch_class)
    tones = {(root + interval) % 12 for interval in chord_intervals(chord)}
    return frozenset(tones | {bass_pitch_class(chord, key_pitch_class)})
