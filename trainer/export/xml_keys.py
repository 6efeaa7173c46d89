"""Keys as MusicXML counts them: fifths from C, and a mode."""

from __future__ import annotations

from trainer.chart import Key

__all__ = ["FIFTHS", "fifths", "key_of_fifths", "parallel_major"]

# The letters in order of fifths, F at -1; each sharp or flat of the name is seven fifths more.
LETTERS = "FCGDAEB"
# Signatures that a chart's keys can have: F flat major to B sharp major.
FIFTHS = range(-8, 13)
MINOR_FIFTHS = range(-11, 10)


def fifths(key: Key) -> int:
    """The sharps (positive) or flats (negative) of a key's signature.

    >>> fifths(Key("D")), fifths(Key("E", -1, minor=True))
    (2, -6)
    """
    return LETTERS.index(key.letter) - 1 + 7 * key.alteration - (3 if key.minor else 0)


def key_of_fifths(count: int, *, minor: bool) -> Key:
    """The key of a signature. Raises ValueError for one that no key of a chart has.

    >>> str(key_of_fifths(-1, minor=True))
    'D minor'
    """
    allowed = MINOR_FIFTHS if minor else FIFTHS
    if count not in allowed:
        raise ValueError(f"found {count} fifths, expected {allowed.start} to {allowed.stop - 1}")
    place = count + 1 + (3 if minor else 0)
    return Key(LETTERS[place % 7], place // 7, minor)


def parallel_major(key: Key) -> Key:
    """The major key on the same 1: charts count their degrees against its scale."""
    return Key(key.letter, key.alteration)
