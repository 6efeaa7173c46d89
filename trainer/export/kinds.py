"""The chords of the charts as kinds and degrees of MusicXML 4.0, and back.

The kind values and what they sound are those of the simple type `kind-value` of the standard; a
degree is added to a kind, altered or taken away (`degree-type-value`). An added degree is counted
from a dominant chord: 7 is the minor seventh, 9 the major ninth.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from trainer.chart.chords import EXTENSIONS, QUALITIES, intervals

__all__ = ["KINDS", "NO_CHORD_KIND", "AddedDegree", "Kind", "chord_of_tones", "read_kind"]

NO_CHORD_KIND = "none"


class AddedDegree(NamedTuple):
    """A degree of a harmony: its value, its alteration in semitones, and the type of change."""

    value: int
    alter: int
    type: str = "add"


class Kind(NamedTuple):
    """The kind value of a chord with the degrees that change it."""

    value: str
    degrees: tuple[AddedDegree, ...] = ()


_NINTH, _SEVENTH = AddedDegree(9, 0), AddedDegree(7, 0)
_NO_THIRD = AddedDegree(3, 0, "subtract")
_NO_ELEVENTH = AddedDegree(11, 0, "subtract")

# (quality, extension) of a chord -> its kind.
KINDS: dict[tuple[str, str], Kind] = {
    ("", ""): Kind("major"),
    ("", "5"): Kind("power"),
    ("", "6"): Kind("major-sixth"),
    ("", "69"): Kind("major-sixth", (_NINTH,)),
    ("", "7"): Kind("dominant"),
    ("", "maj7"): Kind("major-seventh"),
    ("", "9"): Kind("dominant-ninth"),
    ("", "maj9"): Kind("major-ninth"),
    ("", "add9"): Kind("major", (_NINTH,)),
    ("", "11"): Kind("dominant-11th", (_NO_THIRD,)),
    ("", "13"): Kind("dominant-13th", (_NO_ELEVENTH,)),
    ("", "7b9"): Kind("dominant", (AddedDegree(9, -1),)),
    ("", "7#9"): Kind("dominant", (AddedDegree(9, 1),)),
    ("", "sus2"): Kind("suspended-second"),
    ("", "sus4"): Kind("suspended-fourth"),
    ("", "7sus4"): Kind("suspended-fourth", (_SEVENTH,)),
    ("", "9sus4"): Kind("suspended-fourth", (_SEVENTH, _NINTH)),
    ("-", ""): Kind("minor"),
    ("-", "6"): Kind("minor-sixth"),
    ("-", "7"): Kind("minor-seventh"),
    ("-", "maj7"): Kind("major-minor"),
    ("-", "9"): Kind("minor-ninth"),
    ("-", "add9"): Kind("minor", (_NINTH,)),
    ("-", "11"): Kind("minor-11th"),
    ("o", ""): Kind("diminished"),
    ("o", "7"): Kind("diminished-seventh"),
    ("+", ""): Kind("augmented"),
    ("+", "7"): Kind("augmented-seventh"),
    ("+", "maj7"): Kind("augmented", (AddedDegree(7, 1),)),
    ("ø", ""): Kind("half-diminished"),
    ("ø", "7"): Kind("half-diminished"),
}

# Semitones above the root that each kind value sounds, by the table of the standard.
_TONES: dict[str, tuple[int, ...]] = {
    "major": (0, 4, 7),
    "minor": (0, 3, 7),
    "augmented": (0, 4, 8),
    "diminished": (0, 3, 6),
    "dominant": (0, 4, 7, 10),
    "major-seventh": (0, 4, 7, 11),
    "minor-seventh": (0, 3, 7, 10),
    "diminished-seventh": (0, 3, 6, 9),
    "augmented-seventh": (0, 4, 8, 10),
    "half-diminished": (0, 3, 6, 10),
    "major-minor": (0, 3, 7, 11),
    "major-sixth": (0, 4, 7, 9),
    "minor-sixth": (0, 3, 7, 9),
    "dominant-ninth": (0, 4, 7, 10, 14),
    "major-ninth": (0, 4, 7, 11, 14),
    "minor-ninth": (0, 3, 7, 10, 14),
    "dominant-11th": (0, 4, 7, 10, 14, 17),
    "major-11th": (0, 4, 7, 11, 14, 17),
    "minor-11th": (0, 3, 7, 10, 14, 17),
    "dominant-13th": (0, 4, 7, 10, 14, 17, 21),
    "major-13th": (0, 4, 7, 11, 14, 17, 21),
    "minor-13th": (0, 3, 7, 10, 14, 17, 21),
    "suspended-second": (0, 2, 7),
    "suspended-fourth": (0, 5, 7),
    "power": (0, 7),
    # Spelt by its degrees.
    "other": (0,),
}
# Semitones of an added degree: that of a dominant chord (`degree-alter` in the standard).
_ADDED = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 8: 12, 9: 14, 10: 16, 11: 17, 12: 19, 13: 21}
# The nearest chord of a chart for the kinds that it has no sign for.
_NEAREST = {
    "major-11th": ("", "maj9"),
    "major-13th": ("", "maj9"),
    "minor-13th": ("-", "11"),
    "dominant-11th": ("", "11"),
    "dominant-13th": ("", "13"),
}
_CHORDS = {
    intervals(quality, extension): (quality, extension)
    for quality in reversed(QUALITIES)
    for extension in reversed(("", *EXTENSIONS[quality]))
}
_FIRST_OF_KIND = {
    kind.value: chord for chord, kind in reversed(KINDS.items()) if not kind.degrees
} | _NEAREST


def read_kind(value: str, degrees: Sequence[AddedDegree]) -> tuple[tuple[str, str] | None, bool]:
    """Read a kind with its degrees as the quality and extension of a chord, by what it sounds.

    The second value is whether the chord sounds just the same. Where a chart has no sign for the
    degrees, the chord is that of the kind alone. None for a kind that is no chord of a chart.

    >>> read_kind("dominant", [AddedDegree(9, -1)]), read_kind("Tristan", [])
    ((('', '7b9'), True), (None, False))
    """
    tones = _TONES.get(value)
    if tones is None:
        return None, False
    exact = _CHORDS.get(_changed(tones, degrees))
    if exact is not None:
        return exact, True
    nearest = _FIRST_OF_KIND.get(value)
    # The usual chord of a thirteenth goes without its eleventh: that is no loss.
    usual = not degrees and value in ("dominant-11th", "dominant-13th")
    return nearest, usual


def chord_of_tones(tones: Iterable[int]) -> tuple[str, str] | None:
    """The quality and extension of the chord with these semitones above the root; None for none.

    >>> chord_of_tones([0, 7, 3])
    ('-', '')
    """
    return _CHORDS.get(tuple(sorted(tones)))


def _changed(tones: tuple[int, ...], degrees: Sequence[AddedDegree]) -> tuple[int, ...]:
    """The tones of a kind after its degrees are added, altered or taken away, rising."""
    sounding = {_degree_of(tone): tone for tone in tones}
    for degree in degrees:
        if degree.value not in _ADDED:
            continue
        if degree.type == "subtract":
            sounding.pop(degree.value, None)
        elif degree.type == "alter" and degree.value in sounding:
            sounding[degree.value] += degree.alter
        else:
            sounding[degree.value] = _ADDED[degree.value] + degree.alter
    if 2 in sounding and 3 in sounding:
        # Some programs write an added ninth as an added second.
        sounding[9] = sounding.pop(2) + 12
    return tuple(sorted(sounding.values()))


def _degree_of(tone: int) -> int:
    """The degree that a tone of a kind is, by its semitones above the root."""
    by_tone = {
        0: 1, 2: 2, 3: 3, 4: 3, 5: 4, 6: 5, 7: 5, 8: 5, 9: 6, 10: 7, 11: 7, 14: 9, 17: 11, 21: 13,
    }  # fmt: skip
    return by_tone[tone]
