"""Chords by scale degree: which chords there are, and the pitch classes each one sounds.

A quality is the sign after the number (`-` minor, `o` diminished, `+` augmented, `ø`
half-diminished; none is major); an extension follows it and comes from a closed list, so that
`1^75` can only be read as `1^7` and `5`. To add a chord, add it to the tables here: notation,
letter names, speech, band and grading read them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple, Self

from trainer.errors import ChartError

__all__ = [
    "ALTERATIONS",
    "EXTENSIONS",
    "QUALITIES",
    "TRIADS",
    "Chord",
    "Degree",
    "bass_pitch_class",
    "chord_intervals",
    "intervals",
    "pitch_classes",
    "root_pitch_class",
]

TRIADS: dict[str, tuple[int, ...]] = {
    "": (0, 4, 7),
    "-": (0, 3, 7),
    "o": (0, 3, 6),
    "+": (0, 4, 8),
    "ø": (0, 3, 6, 10),
}
QUALITIES = tuple(TRIADS)

# What each extension puts above the root, by quality; the triad's own tones unless they are
# replaced (sus4, sus2, 5).
_TONES: dict[str, dict[str, tuple[int, ...]]] = {
    "": {
        "5": (0, 7),
        "6": (0, 4, 7, 9),
        "69": (0, 4, 7, 9, 14),
        "7": (0, 4, 7, 10),
        "maj7": (0, 4, 7, 11),
        "9": (0, 4, 7, 10, 14),
        "maj9": (0, 4, 7, 11, 14),
        "add9": (0, 4, 7, 14),
        "11": (0, 7, 10, 14, 17),
        "13": (0, 4, 7, 10, 14, 21),
        "7b9": (0, 4, 7, 10, 13),
        "7#9": (0, 4, 7, 10, 15),
        "sus2": (0, 2, 7),
        "sus4": (0, 5, 7),
        "7sus4": (0, 5, 7, 10),
        "9sus4": (0, 5, 7, 10, 14),
    },
    "-": {
        "6": (0, 3, 7, 9),
        "7": (0, 3, 7, 10),
        "maj7": (0, 3, 7, 11),
        "9": (0, 3, 7, 10, 14),
        "add9": (0, 3, 7, 14),
        "11": (0, 3, 7, 10, 14, 17),
    },
    "o": {"7": (0, 3, 6, 9)},
    "+": {"7": (0, 4, 8, 10), "maj7": (0, 4, 8, 11)},
    "ø": {"7": (0, 3, 6, 10)},
}
EXTENSIONS: dict[str, tuple[str, ...]] = {
    quality: tuple(tones) for quality, tones in _TONES.items()
}


def intervals(quality: str, extension: str) -> tuple[int, ...]:
    """Semitones above the root, rising, root included; ninths and above lie over the octave.

    Raises KeyError for a quality and extension that `EXTENSIONS` does not list.
    """
    return _TONES[quality][extension] if extension else TRIADS[quality]


# Accidentals as they are written, in semitones.
ALTERATIONS = {"": 0, "#": 1, "b": -1}


class Degree(NamedTuple):
    """A scale degree: number 1–7, alteration −1 flat, 0, +1 sharp, against the major scale."""

    number: int
    alteration: int = 0

    @classmethod
    def of(cls, text: str) -> Self:
        """The degree that is written so: 7, b7 or #4."""
        return cls(int(text[-1]), ALTERATIONS[text[:-1]])

    def __str__(self) -> str:
        return ("", "#", "b")[self.alteration] + str(self.number)

    @property
    def semitones(self) -> int:
        """Semitones above the 1, 0–11."""
        return ((0, 2, 4, 5, 7, 9, 11)[self.number - 1] + self.alteration) % 12

    def check(self, where: str) -> None:
        """Raise ChartError unless this is a degree."""
        if self.number not in range(1, 8) or self.alteration not in (-1, 0, 1):
            raise ChartError(
                where,
                f"degree {self.number!r} altered by {self.alteration!r}",
                "a number 1–7, altered by -1 (flat), 0 or 1 (sharp)",
            )


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord by degree.

    `quality` is "" major, "-" minor, "o" diminished, "+" augmented, "ø" half-diminished;
    `extension` is one of `EXTENSIONS`; `bass` a degree of the song's key, None for the
    root.
    """

    degree: int
    alteration: int = 0
    quality: str = ""
    extension: str = ""
    bass: Degree | None = None

    def __post_init__(self) -> None:
        Degree(self.degree, self.alteration).check("chord")
        if self.quality not in QUALITIES:
            raise ChartError(
                f"chord on {self.root}",
                f"quality {self.quality!r}",
                "one of " + ", ".join(map(repr, QUALITIES)),
            )
        allowed = EXTENSIONS[self.quality]
        if self.extension and self.extension not in allowed:
            raise ChartError(
                f"chord {self.root}{self.quality}",
                f"extension {self.extension!r}",
                "one of " + ", ".join(allowed),
            )
        if self.bass is not None:
            self.bass.check(f"bass of {self.root}{self.quality}")
            if self.bass == (self.degree, self.alteration):
                raise ChartError(
                    f"chord {self.root}{self.quality}",
                    f"bass {self.bass}",
                    "no bass where the bass is the root",
                )

    @property
    def root(self) -> Degree:
        """The degree the chord is built on."""
        return Degree(self.degree, self.alteration)

    def __str__(self) -> str:
        text = f"{self.root}{self.quality}"
        if self.extension:
            text += f"^{self.extension}"
        return text if self.bass is None else f"{text}/{self.bass}"


def chord_intervals(chord: Chord) -> tuple[int, ...]:
    """Semitones of a chord's tones above its root, rising, root included, bass left out."""
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
