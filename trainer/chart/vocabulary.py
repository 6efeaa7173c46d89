"""The chords there are: qualities, extensions, and the semitones each puts above the root.

Quality signs follow the trade (`-` minor, `o` diminished, `+` augmented, `h` half-diminished);
extensions are a closed list, so that `1^75` can only be `1^7` and `5`. To add a chord, add it here:
notation, letters, speech, band and grading read these tables.
"""

from __future__ import annotations

__all__ = ["EXTENSIONS", "QUALITIES", "TRIADS", "intervals"]

TRIADS: dict[str, tuple[int, ...]] = {
    "": (0, 4, 7),
    "-": (0, 3, 7),
    "o": (0, 3, 6),
    "+": (0, 4, 8),
    "h": (0, 3, 6, 10),
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
    "h": {"7": (0, 3, 6, 10)},
}
EXTENSIONS: dict[str, tuple[str, ...]] = {
    quality: tuple(tones) for quality, tones in _TONES.items()
}


def intervals(quality: str, extension: str) -> tuple[int, ...]:
    """Semitones above the root, rising, root included; ninths and above over the octave.

    Raises KeyError for a pair that `EXTENSIONS` does not list.
    """
    return _TONES[quality][extension] if extension else TRIADS[quality]
