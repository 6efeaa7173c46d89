"""Chord labels in the syntax of Harte, Sandler, Abdallah & Gómez (ISMIR 2005).

A label is a root, a colon, a shorthand for common chords or nothing, degrees added or left out in
brackets, and the bass as a degree above the root: D:maj/3, A:min7, G:7(b9). N is no chord. The
shorthands written are those of the paper; a few later ones (X, sus2, 11, 13) are read as well.
"""

from __future__ import annotations

import re

from trainer.chart import Chord, Key
from trainer.chart.keys import LETTER_PITCH, LETTERS
from trainer.chart.letters import degree_letters
from trainer.export.kinds import chord_of_tones
from trainer.export.score import HarmonyRead

__all__ = ["NO_CHORD", "harte_label", "read_harte"]

NO_CHORD, UNKNOWN = "N", "X"
# (quality, extension) -> what follows the root.
SIGNS: dict[tuple[str, str], str] = {
    ("", ""): "maj",
    ("", "5"): "(5)",
    ("", "6"): "maj6",
    ("", "69"): "maj6(9)",
    ("", "7"): "7",
    ("", "maj7"): "maj7",
    ("", "9"): "9",
    ("", "maj9"): "maj9",
    ("", "add9"): "maj(9)",
    ("", "11"): "9(*3,11)",
    ("", "13"): "9(13)",
    ("", "7b9"): "7(b9)",
    ("", "7#9"): "7(#9)",
    ("", "sus2"): "(2,5)",
    ("", "sus4"): "sus4",
    ("", "7sus4"): "sus4(b7)",
    ("", "9sus4"): "sus4(b7,9)",
    ("-", ""): "min",
    ("-", "6"): "min6",
    ("-", "7"): "min7",
    ("-", "maj7"): "minmaj7",
    ("-", "9"): "min9",
    ("-", "add9"): "min(9)",
    ("-", "11"): "min9(11)",
    ("o", ""): "dim",
    ("o", "7"): "dim7",
    ("+", ""): "aug",
    ("+", "7"): "aug(b7)",
    ("+", "maj7"): "aug(7)",
    ("ø", ""): "hdim7",
    ("ø", "7"): "hdim7",
}
# Shorthand -> its degrees besides the root: table 1 of the paper, then later additions.
SHORTHANDS: dict[str, str] = {
    "maj": "3 5",
    "min": "b3 5",
    "dim": "b3 b5",
    "aug": "3 #5",
    "maj7": "3 5 7",
    "min7": "b3 5 b7",
    "7": "3 5 b7",
    "dim7": "b3 b5 bb7",
    "hdim7": "b3 b5 b7",
    "minmaj7": "b3 5 7",
    "maj6": "3 5 6",
    "min6": "b3 5 6",
    "9": "3 5 b7 9",
    "maj9": "3 5 7 9",
    "min9": "b3 5 b7 9",
    "sus4": "4 5",
    "sus2": "2 5",
    "1": "",
    "5": "5",
    # As a band plays them: without the third, and without the eleventh.
    "11": "5 b7 9 11",
    "maj11": "3 5 7 9 11",
    "min11": "b3 5 b7 9 11",
    "13": "3 5 b7 9 13",
    "maj13": "3 5 7 9 11 13",
    "min13": "b3 5 b7 9 11 13",
}
LABEL = re.compile(
    r"(?P<root>[A-G](?:#{1,2}|b{1,2})?)"
    r"(?::(?P<short>[a-z]*\d{0,2})(?:\((?P<degrees>[^()]{0,60})\))?)?"
    r"(?:/(?P<bass>[#b]{0,2}\d{1,2}))?",
    re.ASCII,
)
DEGREE = re.compile(r"(\*?)([#b]{0,2})(\d{1,2})", re.ASCII)
MAJOR = (0, 2, 4, 5, 7, 9, 11)


def harte_label(chord: Chord | None, key: Key) -> str:
    """The label of a chord in a key.

    >>> harte_label(Chord(5, quality="-", extension="7"), Key("D")), harte_label(None, Key("D"))
    ('A:min7', 'N')
    """
    if chord is None:
        return NO_CHORD
    root = degree_letters(chord.root, key)
    label = f"{root}:{SIGNS[chord.quality, chord.extension]}"
    if chord.bass is None:
        return label
    return f"{label}/{_interval(root, degree_letters(chord.bass, key))}"


def _interval(root: str, note: str) -> str:
    """A note as a degree of the major scale on a root, by its letter: b7 for C above D."""
    number = (LETTERS.index(note[0]) - LETTERS.index(root[0])) % 7
    above = _pitch(note) - _pitch(root) - MAJOR[number]
    sharps = (above + 6) % 12 - 6
    return ("#" * sharps if sharps > 0 else "b" * -sharps) + str(number + 1)


def _pitch(name: str) -> int:
    return LETTER_PITCH[name[0]] + name.count("#") - name[1:].count("b")


def read_harte(label: str) -> tuple[HarmonyRead, str]:
    """Read a label, and say what of it a chart cannot hold, "" for nothing.

    A label that is not understood at all is an open chord.
    """
    if label == NO_CHORD:
        return HarmonyRead(None), ""
    match = LABEL.fullmatch(label)
    short = "" if match is None else match["short"] or ""
    listed = None if match is None else match["degrees"]
    if match is None or (short and short not in SHORTHANDS):
        return HarmonyRead(None, is_open=True), f"the label {label[:40]}"
    if not short and listed is None:
        short = "maj"
    tones = {_degree_number(each): _tone(each) for each in SHORTHANDS.get(short, "").split()}
    tones[1] = 0
    added = re.split(r"[, ]+", listed.strip()) if listed else []
    if not all(DEGREE.fullmatch(each) for each in added):
        return HarmonyRead(None, is_open=True), f"the label {label[:40]}"
    for each in added:
        number = _degree_number(each)
        if each.startswith("*"):
            tones.pop(number, None)
        else:
            tones[number] = _tone(each)
    plain = dict.fromkeys(SHORTHANDS.get(short, "").split())
    signs = chord_of_tones(tones.values())
    lost = "" if signs else f"the label {label[:40]}"
    if signs is None:
        signs = chord_of_tones([0, *map(_tone, plain)]) or chord_of_tones(
            [0, *(_tone(each) for each in list(plain)[:3])]
        )
    if signs is None:
        return HarmonyRead(None, is_open=True), f"the label {label[:40]}"
    bass = _bass_letter(match["root"], match["bass"]) if match["bass"] else ""
    return HarmonyRead(match["root"], *signs, bass=bass), lost


def _degree_number(text: str) -> int:
    return int(text.lstrip("*#b"))


def _tone(text: str) -> int:
    """Semitones of a degree above the root: 10 for b7, 14 for 9."""
    number = _degree_number(text)
    octave, place = divmod(max(number, 1) - 1, 7)
    return 12 * octave + MAJOR[place] + text.count("#") - text.count("b")


def _bass_letter(root: str, degree: str) -> str:
    """The letter name of a degree above a root; that of the same sound if it is altered thrice."""
    number = (_degree_number(degree) - 1) % 7
    letter = LETTERS[(LETTERS.index(root[0]) + number) % 7]
    sharps = (_pitch(root) + _tone(degree) - LETTER_PITCH[letter] + 6) % 12 - 6
    if abs(sharps) > 2:
        pitch = (_pitch(root) + _tone(degree)) % 12
        return next(
            name + sign
            for sign, by in (("", 0), ("#", 1))
            for name in LETTERS
            if (LETTER_PITCH[name] + by) % 12 == pitch
        )
    return letter + ("#" * sharps if sharps > 0 else "b" * -sharps)
