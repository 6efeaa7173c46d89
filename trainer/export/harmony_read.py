"""A harmony element of MusicXML read as a chord: its root by letter or numeral, kind and bass."""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element

from trainer.chart import Degree, Key
from trainer.export.kinds import NO_CHORD_KIND, AddedDegree, read_kind
from trainer.export.score import HarmonyRead, Numeral
from trainer.export.xml_keys import key_of_fifths, parallel_major
from trainer.export.xml_values import text_at, whole_at

__all__ = ["read_harmony"]

DEGREE_TEXT = re.compile(r"([b#]?)([1-7])")
ROMAN = re.compile(r"([b#♭♯]?)(VII|VI|V|IV|III|II|I)", re.IGNORECASE)
NUMERALS = ("I", "II", "III", "IV", "V", "VI", "VII")
# The degrees that each minor scale lowers, against the major scale.
LOWERED = {
    "major": (),
    "minor": (3, 6, 7),
    "natural minor": (3, 6, 7),
    "harmonic minor": (3, 6),
    "melodic minor": (3,),
}
# Names of kinds that some programs write, and the standard's own.
OTHER_NAMES = {
    "minor-major": "major-minor",
    "dominant-seventh": "dominant",
    "half-diminished-seventh": "half-diminished",
    "min": "minor",
    "maj": "major",
}
OPEN = HarmonyRead(None, is_open=True)


def read_harmony(element: Element, key: Key | None) -> tuple[HarmonyRead, str]:
    """Read a chord and what of it could not be read, "" for nothing.

    `key` is that of the signature. A chord that is not understood at all is open.
    """
    kind = element.find("kind")
    value = OTHER_NAMES.get(text_at(element, "kind"), text_at(element, "kind"))
    if value == NO_CHORD_KIND:
        return HarmonyRead(None), ""
    if len(element.findall("kind")) > 1:
        return OPEN, "a chord of a chord, such as five of two"
    root = _read_root(element, key)
    if isinstance(root, str) and not root:
        return OPEN, "a chord without a root that can be read"
    degrees = [_read_degree(each) for each in element.findall("degree")]
    signs, exact = read_kind(value, [each for each in degrees if each is not None])
    said = f"the kind {value[:40] or 'of no name'}" + (" with its degrees" if degrees else "")
    if signs is None:
        return OPEN, said
    quality, extension = signs
    if quality == "ø" and kind is not None and kind.get("text") == "ø7":
        extension = "7"
    bass = _read_letter(element, "bass")
    shown = element.find("bass/bass-step")
    match = DEGREE_TEXT.fullmatch("" if shown is None else shown.get("text", ""))
    bass_degree = None if match is None else Degree.of(match[0])
    inversion = whole_at(element, "inversion") or 0
    read = HarmonyRead(root, quality, extension, bass, bass_degree, inversion)
    return read, "" if exact else said


def _read_root(element: Element, key: Key | None) -> str | Numeral:
    """A letter name, a numeral, or "" for a root that cannot be read."""
    numeral = element.find("numeral")
    if numeral is not None:
        return _read_numeral(numeral, key)
    if element.find("function") is not None:
        match = ROMAN.match(text_at(element, "function"))
        counted = Key("C") if key is None else key
        if match is None:
            return ""
        number = NUMERALS.index(match[2].upper()) + 1
        alter = {"b": -1, "♭": -1, "#": 1, "♯": 1}.get(match[1].lower(), 0)
        return _numeral(number, alter, counted, "minor" if counted.minor else "major")
    return _read_letter(element, "root")


def _read_numeral(numeral: Element, key: Key | None) -> str | Numeral:
    number, alter = whole_at(numeral, "numeral-root"), whole_at(numeral, "numeral-alter") or 0
    own = numeral.find("numeral-key")
    counted = Key("C") if key is None else key
    mode = "minor" if counted.minor else "major"
    if own is not None:
        count, mode = whole_at(own, "numeral-fifths"), text_at(own, "numeral-mode")
        if count is None or mode not in LOWERED:
            return ""
        try:
            counted = key_of_fifths(count, minor=mode != "major")
        except ValueError:
            return ""
    if number not in range(1, 8) or alter not in range(-2, 3):
        return ""
    assert number is not None
    return _numeral(number, alter, counted, mode)


def _numeral(number: int, alter: int, key: Key, mode: str) -> Numeral:
    return Numeral(Degree(number, alter - (number in LOWERED[mode])), parallel_major(key))


def _read_letter(element: Element, what: str) -> str:
    """The letter name in a root or bass element; "" if there is none that can be read."""
    step = text_at(element, f"{what}/{what}-step")
    alter = whole_at(element, f"{what}/{what}-alter") or 0
    if step not in tuple("ABCDEFG") or alter not in range(-2, 3):
        return ""
    return step + ("#" * alter if alter > 0 else "b" * -alter)


def _read_degree(element: Element) -> AddedDegree | None:
    value = whole_at(element, "degree-value")
    alter = whole_at(element, "degree-alter") or 0
    kind = text_at(element, "degree-type")
    return None if value is None or abs(alter) > 2 else AddedDegree(value, alter, kind or "add")
