"""Chords named by letters or numbers with the trade's signs: Am7, 6m7, G/B, 5/7."""

from __future__ import annotations

import re

from trainer.chart import Chord, Degree, Key
from trainer.chart.chords import EXTENSIONS, QUALITIES
from trainer.chart.letters import NO_CHORD, chord_letters, chord_suffix
from trainer.chart.typed.spellings import read_spelling
from trainer.export.score import HarmonyRead, Numeral
from trainer.export.xml_keys import parallel_major

__all__ = ["chord_name", "read_chord_name"]

NAME = re.compile(
    r"(?P<root>[A-G](?:##?|bb?)?|[b#]?[1-7])(?P<suffix>[^/]{0,16})"
    r"(?:/(?P<bass>[A-G](?:##?|bb?)?|[b#]?[1-7]))?"
)
NO_CHORDS = frozenset(("NC", "N.C.", "N.C", "N", "0"))
SUFFIXES = {
    chord_suffix(Chord(1, 0, quality, extension)): (quality, extension)
    for quality in reversed(QUALITIES)
    for extension in reversed(("", *EXTENSIONS[quality]))
}


def chord_name(chord: Chord | None, key: Key, *, letters: bool) -> str:
    """The name of a chord, by letter in a key or by number.

    >>> chord_name(Chord(6, quality="-"), Key("D"), letters=True)
    'Bm'
    >>> chord_name(Chord(5, bass=Degree(7)), Key("D"), letters=False)
    '5/7'
    """
    if chord is None:
        return NO_CHORD
    if letters:
        return chord_letters(chord, key)
    name = f"{chord.root}{chord_suffix(chord)}"
    return name if chord.bass is None else f"{name}/{chord.bass}"


def read_chord_name(name: str, key: Key) -> HarmonyRead | None:
    """Read a name as a chord; numbers count in `key`. None for what is no name of a chord."""
    if name in NO_CHORDS:
        return HarmonyRead(None)
    match = NAME.fullmatch(name.replace("♭", "b").replace("♯", "#"))
    if match is None:
        return None
    signs = SUFFIXES.get(match["suffix"])
    if signs is None:
        spelt = read_spelling(match["suffix"], 0, free=True)
        if spelt.end != len(match["suffix"]):
            return None
        signs = spelt.quality, spelt.extension
        if signs[1] not in ("", *EXTENSIONS.get(signs[0], ())):
            return None
    bass = match["bass"] or ""
    by_number = Degree.of(bass) if bass[-1:].isdigit() else None
    return HarmonyRead(
        _root(match["root"], key),
        *signs,
        bass="" if by_number else bass,
        bass_degree=by_number,
    )


def _root(root: str, key: Key) -> str | Numeral:
    return Numeral(Degree.of(root), parallel_major(key)) if root[-1].isdigit() else root
