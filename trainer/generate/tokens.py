"""Tokens: the names under which the tables count chords, and how chords are read and spelt."""

from __future__ import annotations

import re
from functools import cache

from trainer.chart import Chord, Degree
from trainer.chart.chords import ALTERATIONS
from trainer.errors import ChartError

__all__ = ["bass_token", "parse_chord", "parse_degree", "spell", "spell_bass", "token_of"]

_CHORD = re.compile(r"([b#]?)([1-7])([-o+ø]?)(?:\^([^/\s]+))?")
_BY_SEMITONE = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
# A diminished chord that leads up is written as the raised degree it is (common practice).
_SPELT = {"b5o": "#4o", "b2o": "#1o", "b6o": "#5o"}


@cache
def parse_chord(text: str) -> Chord:
    """The chord of a text such as `b7`, `2-^7` or `#4o`. Raises ChartError."""
    found = _CHORD.fullmatch(text)
    if not found:
        raise ChartError(
            "chord",
            repr(text),
            "a degree with quality and extension, as in 6- or 5^7, without a bass",
        )
    sign, number, quality, extension = found.groups()
    return Chord(int(number), ALTERATIONS[sign], quality, extension or "")


@cache
def parse_degree(text: str) -> Degree:
    """The degree of a text such as `7` or `b7`."""
    return Degree.of(text)


def bass_token(semitones: int) -> str:
    """The tables' name of the degree that lies `semitones` above the 1."""
    return _BY_SEMITONE[semitones % 12]


@cache
def token_of(text: str) -> str:
    """The token under which the tables count a chord: degree and `-` or `o`."""
    chord = parse_chord(text)
    return bass_token(chord.root.semitones) + {"-": "-", "o": "o", "ø": "o"}.get(chord.quality, "")


# Scale steps from a root to a bass, by how many semitones the bass lies above it.
_STEPS = {1: 1, 2: 1, 3: 2, 4: 2, 5: 3, 6: 4, 7: 4, 8: 5, 9: 5, 10: 6, 11: 6}


@cache
def spell_bass(form: str, bass: str) -> Degree:
    """The bass as a degree of the key, named from its chord: 2/#4, not 2/b5."""
    root, low = parse_chord(form).root, parse_degree(bass)
    number = (root.number - 1 + _STEPS[(low.semitones - root.semitones) % 12]) % 7 + 1
    alteration = (low.semitones - Degree(number).semitones + 6) % 12 - 6
    return Degree(number, alteration) if abs(alteration) <= 1 else low


def spell(token: str) -> str:
    """How the chord of a token is written in a chart."""
    return _SPELT.get(token, token)
