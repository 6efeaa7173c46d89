"""Keys: the name of the 1, and its name after the key moves."""

from __future__ import annotations

from dataclasses import dataclass

from trainer.errors import ChartError

__all__ = ["LETTERS", "Key"]

LETTERS = "CDEFGAB"
LETTER_PITCH = dict(zip(LETTERS, (0, 2, 4, 5, 7, 9, 11), strict=True))
SIGNS = {"": 0, "#": 1, "b": -1, "♯": 1, "♭": -1}
# The usual name of each key by pitch class: the one with the fewest sharps or flats.
USUAL_MAJOR = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
USUAL_MINOR = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")


@dataclass(frozen=True, slots=True)
class Key:
    """The key in which numbers are counted: the 1 is `letter` with `alteration` (−1, 0, +1).

    `minor` only says that the song is on a minor 1; degrees are counted against the major scale of
    the 1 in any case (`b3`, `b7`).
    """

    letter: str
    alteration: int = 0
    minor: bool = False

    def __post_init__(self) -> None:
        if self.letter not in LETTER_PITCH or self.alteration not in (-1, 0, 1):
            raise ChartError(
                "key",
                f"{self.letter!r} altered by {self.alteration!r}",
                "a letter A–G, altered by -1, 0 or 1",
            )

    @classmethod
    def parse(cls, text: str) -> Key:
        """Read "D", "Bb", "F#", "E minor" or "Em". Raises ChartError."""
        words = text.split()
        name = words[0] if words else ""
        mode = words[1].lower() if len(words) == 2 else ""
        if len(words) == 1 and name.endswith("m"):
            name, mode = name[:-1], "minor"
        letter, sign = name[:1].upper(), name[1:]
        if (
            letter not in LETTER_PITCH
            or sign not in SIGNS
            or len(words) > 2
            or mode not in ("", "major", "minor")
        ):
            raise ChartError("key", repr(text), "a key such as D, Bb, F# or E minor")
        return cls(letter, SIGNS[sign], mode == "minor")

    def __str__(self) -> str:
        name = self.letter + ("", "#", "b")[self.alteration]
        return f"{name} minor" if self.minor else name

    @property
    def pitch_class(self) -> int:
        """Pitch class of the 1, C = 0."""
        return (LETTER_PITCH[self.letter] + self.alteration) % 12

    def shifted(self, semitones: int) -> Key:
        """The key `semitones` higher, by its usual name; an unmoved key keeps its own."""
        if semitones % 12 == 0:
            return self
        names = USUAL_MINOR if self.minor else USUAL_MAJOR
        name = names[(self.pitch_class + semitones) % 12]
        return Key(name[0], SIGNS[name[1:]], self.minor)
