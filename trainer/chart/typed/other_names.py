"""Chords that are not typed as numbers: Roman numerals, and letter names in a known key."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache

from trainer.chart.chords import TRIADS, Degree
from trainer.chart.keys import LETTER_PITCH, LETTERS, Key
from trainer.chart.typed.spellings import Spelling, read_spelling
from trainer.chart.typed.words import ChordPiece, Reading, WordDoubt

__all__ = ["LETTER_CHORD", "looks_roman", "read_letters", "read_roman"]

NUMERALS = ("i", "ii", "iii", "iv", "v", "vi", "vii")
ROMAN = re.compile(
    r"(?P<sign>[b#♮]?)(?P<root>VII|VI|V|IV|III|II|I|vii|vi|v|iv|iii|ii|i)(?![IVXivx])", re.ASCII
)
ROMAN_BASS = re.compile(
    r"/(?P<sign>[b#]?)(?:(?P<number>[1-7])|(?P<numeral>VII|VI|V|IV|III|II|I|vii|vi|v|iv|iii|ii|i))"
)
TAIL = re.compile(r"(?P<ticks>['\"]*)(?P<articulation>[dpc]?)", re.ASCII)
LETTER_CHORD = re.compile(r"[A-G](?:##?|bb?)?")
LETTER_BASS = re.compile(r"/([A-G])(##?|bb?)?")
# In a minor key these numerals are usually the lowered degrees.
LOWERED_IN_MINOR = frozenset(("III", "VI", "VII"))


@lru_cache(maxsize=1024)
def read_roman(word: str, is_major: bool) -> Reading | None:
    """Read a word as a Roman numeral, upper case major and lower case minor; None if it is not.

    Two things are doubtful: a 6, which may be a first inversion, and in a minor key the degrees
    that are usually lowered there.
    """
    head = ROMAN.match(word)
    if head is None:
        return None
    if "-" in word:
        return _between_dashes(word, lambda part: read_roman(part, is_major))
    numeral, sign = head["root"], head["sign"].replace("♮", "")
    spelling = _roman_spelling(word, head.end(), is_minor=numeral.islower())
    bass_match = ROMAN_BASS.match(word, spelling.end)
    bass = "" if bass_match is None else bass_match["sign"] + _number(bass_match)
    end = spelling.end if bass_match is None else bass_match.end()
    tail = TAIL.match(word, end)
    if tail is None or tail.end() != len(word):
        return None
    root = f"{sign}{NUMERALS.index(numeral.lower()) + 1}"
    ticks = len(tail["ticks"]) + tail["ticks"].count('"')
    chord = ChordPiece(
        0, len(word), root, spelling.quality, spelling.extension, bass, ticks, tail["articulation"]
    )
    rest = word[head.end() :]
    if not is_major and not head["sign"] and numeral in LOWERED_IN_MINOR:
        lowered = chord._replace(root=f"b{root}")
        asked = f"{lowered.text}, the usual one in a minor key, or {chord.text}?"
        readings = ((f"b{numeral}{rest}",), (f"♮{numeral}{rest}",))
        return Reading((lowered,), (WordDoubt(0, len(word), asked, readings),))
    inverted = _first_inversion(chord) if rest == "6" else ""
    if inverted:
        asked = (
            f"{chord.text}, or {chord.root}{chord.quality}/{inverted}, the chord over its third?"
        )
        readings = ((f"{numeral}^6",), (f"{numeral}/{inverted}",))
        return Reading((chord,), (WordDoubt(0, len(word), asked, readings),))
    return Reading((chord,))


def looks_roman(word: str) -> bool:
    """Whether a word is a Roman numeral with what may follow it."""
    return read_roman(word, True) is not None


def _number(match: re.Match[str]) -> str:
    return match["number"] or str(NUMERALS.index(match["numeral"].lower()) + 1)


def _roman_spelling(word: str, at: int, *, is_minor: bool) -> Spelling:
    """The quality and extension of a numeral; lower case has its minor third already."""
    own = read_spelling(word, at, free=True)
    if not is_minor or own.short[:1] in ("m", "o", "H"):
        return own
    return read_spelling(word, at, free=True, before="m")


def _first_inversion(chord: ChordPiece) -> str:
    """The degree of a chord's third, where it is one of the seven plain degrees; else ""."""
    if not chord.root.isdigit():
        return ""
    third = TRIADS[chord.quality][1] + Degree(int(chord.root)).semitones
    return next((str(n) for n in range(1, 8) if Degree(n).semitones == third % 12), "")


@lru_cache(maxsize=1024)
def read_letters(word: str, key: Key) -> Reading | None:
    """Read a word as a chord in letter names, counted in a key; None if it is not one."""
    head = LETTER_CHORD.match(word)
    if head is None:
        return None
    spelling = read_spelling(word, head.end(), free=True)
    bass_match = LETTER_BASS.match(word, spelling.end)
    end = spelling.end if bass_match is None else bass_match.end()
    tail = TAIL.match(word, end)
    if tail is None or tail.end() != len(word):
        # A dash may also be a minus, as in C-7: that has been tried.
        return _between_dashes(word, lambda part: read_letters(part, key))
    bass = "" if bass_match is None else degree_of(bass_match[0][1:], key)
    ticks = len(tail["ticks"]) + tail["ticks"].count('"')
    return Reading((
        ChordPiece(
            0, len(word), degree_of(head[0], key), spelling.quality, spelling.extension, bass,
            ticks, tail["articulation"],
        ),
    ))  # fmt: skip


def _between_dashes(word: str, read: Callable[[str], Reading | None]) -> Reading | None:
    """Read a word of several chords with dashes between them; None if a part is no chord."""
    parts, at = word.split("-"), 0
    chords: list[ChordPiece] = []
    doubts: list[WordDoubt] = []
    for part in parts:
        reading = read(part) if len(parts) > 1 else None
        if reading is None:
            return None
        chords += [
            each._replace(start=each.start + at, end=each.end + at) for each in reading.chords
        ]
        doubts += [
            each._replace(start=each.start + at, end=each.end + at) for each in reading.doubts
        ]
        at += len(part) + 1
    return Reading(tuple(chords), tuple(doubts))


def degree_of(name: str, key: Key) -> str:
    """The degree of a note in a key, by its letter: F# in C is #4, Gb is b5.

    A note that sounds like one of the seven plain degrees is that degree, however it is spelt, and
    one that its letter would alter twice is named from another letter.
    """
    pitch = (LETTER_PITCH[name[0]] + name.count("#") - name[1:].count("b")) % 12
    above = (pitch - key.pitch_class) % 12
    number = (LETTERS.index(name[0]) - LETTERS.index(key.letter)) % 7
    degrees = [Degree(each % 7 + 1) for each in (number, number + 1, number - 1, *range(7))]
    altered = [(above - degree.semitones + 6) % 12 - 6 for degree in degrees]
    # No note is more than a half step from all seven.
    most = 0 if 0 in altered else 1
    first = next(at for at, half_steps in enumerate(altered) if abs(half_steps) <= most)
    return str(Degree(degrees[first].number, altered[first]))
