"""Chords as the harmony elements of MusicXML 4.0: as numerals, or as letters.

A numeral is the degree itself. Charts count degrees against the major scale of the 1, the standard
in a minor key against natural minor; so in a minor key every numeral names the major key on the
same 1 in its `numeral-key`, and its number is that of the chart. The bass of a harmony is always a
letter in the standard; with numerals its `text` is the degree.
"""

from __future__ import annotations

from xml.etree.ElementTree import Element, SubElement

from trainer.chart import Chord, Degree, Key
from trainer.chart.letters import chord_suffix, degree_letters
from trainer.export.kinds import KINDS, NO_CHORD_KIND, AddedDegree
from trainer.export.xml_keys import fifths, parallel_major

__all__ = ["write_harmony"]

NO_CHORD_TEXT = "N.C."


def write_harmony(chord: Chord | None, key: Key, signature: Key, *, letters: bool) -> Element:
    """Write a chord in `key`; None is no chord.

    `signature` is the key of the signature where the harmony stands, which is another one only for
    a chord that is pushed across a change of key.
    """
    harmony = Element("harmony")
    _write_root(harmony, chord, key, signature, letters=letters)
    if chord is None:
        SubElement(harmony, "kind", text=NO_CHORD_TEXT).text = NO_CHORD_KIND
        return harmony
    kind = KINDS[chord.quality, chord.extension]
    text = chord_suffix(chord) if letters else chord.quality + chord.extension
    SubElement(harmony, "kind", text=text).text = kind.value
    if chord.bass is not None:
        _write_bass(harmony, chord.bass, key, letters=letters)
    for degree in kind.degrees:
        _write_degree(harmony, degree)
    return harmony


def _write_root(
    harmony: Element, chord: Chord | None, key: Key, signature: Key, *, letters: bool
) -> None:
    root = Degree(1) if chord is None else chord.root
    hidden = {"text": ""} if chord is None else {}
    if letters:
        name = degree_letters(root, key)
        _write_letter(SubElement(harmony, "root"), "root", name, hidden)
        return
    numeral = SubElement(harmony, "numeral")
    shown = hidden or {"text": str(root.number)}
    SubElement(numeral, "numeral-root", shown).text = str(root.number)
    if root.alteration:
        SubElement(numeral, "numeral-alter").text = str(root.alteration)
    if key.minor or key != signature:
        counted = SubElement(numeral, "numeral-key", {"print-object": "no"})
        SubElement(counted, "numeral-fifths").text = str(fifths(parallel_major(key)))
        SubElement(counted, "numeral-mode").text = "major"


def _write_bass(harmony: Element, bass: Degree, key: Key, *, letters: bool) -> None:
    name = degree_letters(bass, key)
    shown = {} if letters else {"text": str(bass)}
    _write_letter(SubElement(harmony, "bass"), "bass", name, shown)


def _write_letter(parent: Element, what: str, name: str, attributes: dict[str, str]) -> None:
    """Write the step and alteration of a root or bass."""
    SubElement(parent, f"{what}-step", attributes).text = name[0]
    alter = name.count("#") - name[1:].count("b")
    if alter:
        # The sign of a bass that is shown as a number belongs to its text.
        hidden = {"print-object": "no"} if attributes else {}
        SubElement(parent, f"{what}-alter", hidden).text = str(alter)


def _write_degree(harmony: Element, degree: AddedDegree) -> None:
    # The text of the kind shows the whole sign already.
    written = SubElement(harmony, "degree", {"print-object": "no"})
    SubElement(written, "degree-value").text = str(degree.value)
    SubElement(written, "degree-alter").text = str(degree.alter)
    SubElement(written, "degree-type").text = degree.type
