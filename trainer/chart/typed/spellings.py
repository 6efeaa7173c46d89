"""The ways in which musicians spell what follows a chord's number or letter.

A spelling is cut into units (`maj`, `m`, `-`, `sus`, a digit …), each with a short sign of its own,
and the signs are looked up in one table: `min7`, `mi7`, `m7` and `-7` are all "m7" there. The names
include those of Harte, Sandler, Abdallah & Gómez, "Symbolic Representation of Musical Chords",
ISMIR 2005.
"""

from __future__ import annotations

import re
from typing import NamedTuple

__all__ = ["Spelling", "read_spelling"]

UNIT = re.compile(
    r"(?P<H>(?i:hdim)|ø)|(?P<o>(?i:diminished|dim)|o)|(?P<D>(?i:dom))|(?P<p>(?i:augmented|aug)|\+)"
    r"|(?P<M>(?i:major|maj|ma(?!dd))|M(?!i|I))|(?P<T>Δ)|(?P<m>(?i:minor|min|mi)|m|-)|(?P<s>(?i:sus))"
    r"|(?P<a>(?i:add))|(?P<n>(?i:no))|(?P<sign>[b#\d/])|(?P<caret>\^)|(?P<open>\()|(?P<close>\))",
    re.ASCII,
)
# What each spelling stands for, in the short signs of UNIT: quality and extension. H is
# half-diminished, D dominant, p augmented, M major, T a triangle, s sus, a add, n no.
TABLE: dict[str, tuple[str, str]] = {
    "": ("", ""), "M": ("", ""), "m": ("-", ""), "o": ("o", ""), "p": ("+", ""), "H": ("ø", ""),
    "5": ("", "5"), "n3": ("", "5"), "6": ("", "6"), "M6": ("", "6"), "69": ("", "69"),
    "6/9": ("", "69"), "7": ("", "7"), "D7": ("", "7"), "M7": ("", "maj7"), "T": ("", "maj7"),
    "T7": ("", "maj7"), "9": ("", "9"), "D9": ("", "9"), "M9": ("", "maj9"), "T9": ("", "maj9"),
    "a9": ("", "add9"), "a2": ("", "add9"), "2": ("", "add9"), "11": ("", "11"), "D11": ("", "11"),
    "13": ("", "13"), "D13": ("", "13"), "7b9": ("", "7b9"), "D7b9": ("", "7b9"),
    "7#9": ("", "7#9"), "D7#9": ("", "7#9"), "s": ("", "sus4"), "s4": ("", "sus4"),
    "s2": ("", "sus2"), "7s": ("", "7sus4"), "7s4": ("", "7sus4"), "D7s4": ("", "7sus4"),
    "9s": ("", "9sus4"), "9s4": ("", "9sus4"),
    "m6": ("-", "6"), "m7": ("-", "7"), "m9": ("-", "9"), "ma9": ("-", "add9"),
    "ma2": ("-", "add9"), "m11": ("-", "11"), "mM7": ("-", "maj7"), "mT": ("-", "maj7"),
    "mT7": ("-", "maj7"),
    "o7": ("o", "7"), "p7": ("+", "7"), "7p": ("+", "7"), "7#5": ("+", "7"), "pM7": ("+", "maj7"),
    "M7#5": ("+", "maj7"), "H7": ("ø", ""), "m7b5": ("ø", ""),
}  # fmt: skip
PREFIXES = frozenset(spelling[:end] for spelling in TABLE for end in range(len(spelling) + 1))
# After a number, where a digit could be the next bar, these need no ^. The rest of the table does.
FREE = frozenset(
    [spelling for spelling in TABLE if not spelling[:1].isdigit() and spelling != "M7#5"]
    + ["9", "9s", "9s4", "7s", "7s4", "7b9", "7#9", "6/9"]
)
# In these the last figure may be a bar of its own: 2-7 is 2-^7, or 2- and 7.
LOOSE = frozenset(("m6", "m7", "m11", "o7", "p7", "H7"))


class Spelling(NamedTuple):
    """A quality and an extension that were read, up to index `end`.

    `short` is the spelling in short signs. `figure` is where the figure begins that could be a bar
    of its own; None if there is none.
    """

    end: int
    quality: str
    extension: str
    short: str
    figure: int | None = None


def read_spelling(text: str, at: int, *, free: bool, before: str = "") -> Spelling:
    """Read the longest spelling at an index; one without length where there is none.

    Parameters
    ----------
    free : whether digits can be nothing but part of the chord, as after a letter. After a number
        they need a ^ or a bracket before them, unless they cannot be degrees.
    before : what was read of the same chord earlier, in short signs: signs may come in any order.
    """
    short, depth, marked, figure = before, 0, free, None
    best = Spelling(at, *TABLE[before], before)
    while (match := UNIT.match(text, at)) is not None:
        unit = match.lastgroup
        if unit == "caret":
            if marked and not free:
                break
            marked = True
        elif unit == "open":
            depth, marked = depth + 1, True
        elif unit == "close":
            depth -= 1
            if depth < 0:
                break
        else:
            sign = match[0] if unit == "sign" else unit or ""
            if short + sign not in PREFIXES:
                break
            figure = at if sign.isdigit() and not short[-1:].isdigit() else figure
            short += sign
        at = match.end()
        if depth == 0 and unit != "caret" and _is_whole(short, marked and not free, free):
            loose = short in LOOSE and not marked
            best = Spelling(at, *TABLE[short], short, figure if loose else None)
            if short == "H7" and marked and not free:
                best = best._replace(extension="7")
    return best


def _is_whole(short: str, marked: bool, free: bool) -> bool:
    """Whether short signs are a spelling; after a ^ there must be an extension."""
    if marked:
        return short == "H7" or TABLE.get(short, ("", ""))[1] != ""
    return short in (TABLE if free else FREE)
