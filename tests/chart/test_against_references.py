"""Charts against two independent libraries: music21 (BSD, MIT) and pychord (MIT).

music21 spells from a key signature, pychord reads letter names; neither shares code with us.
Known differences of theirs are listed where they are left out.
"""

from __future__ import annotations

from functools import cache

import pychord
import pytest
from music21 import harmony, key, roman

from trainer.chart import (
    Chord,
    Degree,
    Key,
    bass_pitch_class,
    chord_intervals,
    chord_letters,
    parse,
    pitch_classes,
    root_pitch_class,
)
from trainer.chart.chords import EXTENSIONS, QUALITIES
from trainer.chart.keys import USUAL_MAJOR, USUAL_MINOR
from trainer.chart.letters import degree_letters

NUMERALS = ("I", "II", "III", "IV", "V", "VI", "VII")
DEGREES = [Degree(number, sign) for number in range(1, 8) for sign in (-1, 0, 1)]
EVERY_KIND = [(q, e) for q in QUALITIES for e in ("", *EXTENSIONS[q])]
# Figures of inversions, by triad or seventh chord: which member of the chord is in the bass.
FIGURES = {False: ("", "6", "64"), True: ("7", "65", "43", "42")}


@cache
def oracle_key(name: str, mode: str = "major") -> key.Key:
    """music21's key; it writes flats as minus signs."""
    return key.Key(name.replace("b", "-"), mode)


def numeral(degree: Degree, quality: str, figures: str = "") -> str:
    """Roman numeral of a degree chord: case and sign tell the quality."""
    text = NUMERALS[degree.number - 1]
    text = text.lower() if quality in ("-", "o", "ø") else text
    sign = {"o": "o", "+": "+", "ø": "ø"}.get(quality, "")
    return ("", "#", "b")[degree.alteration] + text + sign + figures


def plain(name: str) -> str:
    """A music21 pitch name in our spelling."""
    return name.replace("-", "b")


def chord_of(text: str, in_key: str) -> tuple[Chord, Key]:
    """The only chord of a chart in a key."""
    chart = parse(f"key: {in_key}\n{text}")
    chord = chart.bars()[0].events[0].chord
    assert chord is not None
    return chord, chart.key


@pytest.mark.many
@pytest.mark.parametrize("name", USUAL_MAJOR)
def test_triads_are_those_of_roman_numerals(name: str) -> None:
    """In each of 12 keys, every triad has music21's root name and pitch classes.

    Source: music21 roman.RomanNumeral.
    """
    for degree in DEGREES:
        for quality in ("", "-", "o", "+"):
            theirs = roman.RomanNumeral(numeral(degree, quality), oracle_key(name))
            ours, ours_key = chord_of(f"{degree}{quality}", name)
            assert degree_letters(ours.root, ours_key) == plain(theirs.root().name), str(ours)
            tones = {pitch.pitchClass for pitch in theirs.pitches}
            assert pitch_classes(ours, ours_key.pitch_class) == tones, str(ours)


@pytest.mark.many
@pytest.mark.parametrize("name", USUAL_MAJOR)
@pytest.mark.parametrize(
    ("written", "figure"),
    [
        ("5^7", "V7"),
        ("1^maj7", "IM7"),
        ("4^maj7", "IVM7"),
        ("2-^7", "ii7"),
        ("3-^7", "iii7"),
        ("6-^7", "vi7"),
        ("7ø", "viiø7"),
        ("7ø^7", "viiø7"),
        ("7o^7", "viio7"),
        ("2ø", "iiø7"),
        ("b7^maj7", "bVIIM7"),
    ],
)
def test_sevenths_are_those_of_roman_numerals(name: str, written: str, figure: str) -> None:
    """In each of 12 keys, sevenths sound as music21's RomanNumeral has them."""
    theirs = roman.RomanNumeral(figure, oracle_key(name))
    ours, ours_key = chord_of(written, name)
    assert degree_letters(ours.root, ours_key) == plain(theirs.root().name)
    tones = {pitch.pitchClass for pitch in theirs.pitches}
    assert pitch_classes(ours, ours_key.pitch_class) == tones


@pytest.mark.many
@pytest.mark.parametrize("name", USUAL_MAJOR)
@pytest.mark.parametrize(
    ("written", "base", "inversion"),
    [
        ("1/3", "I", 1),
        ("1/5", "I", 2),
        ("5/7", "V", 1),
        ("5/2", "V", 2),
        ("4/6", "IV", 1),
        ("4/1", "IV", 2),
        ("6-/1", "vi", 1),
        ("6-/3", "vi", 2),
        ("2-/4", "ii", 1),
        ("3-/5", "iii", 1),
        ("4-/b6", "iv", 1),
        ("b7/2", "bVII", 1),
        ("5^7/7", "V", 1),
        ("5^7/2", "V", 2),
        ("5^7/4", "V", 3),
        ("2-^7/1", "ii", 3),
    ],
)
def test_slash_chords_are_inversions(name: str, written: str, base: str, inversion: int) -> None:
    """A slash degree in the chord is the bass of music21's inversion, in name and pitch.

    music21 reads "V/5" as an applied chord and drops the slash, so figures ask for inversions.
    """
    figure = base + FIGURES["^7" in written][inversion]
    theirs = roman.RomanNumeral(figure, oracle_key(name))
    ours, ours_key = chord_of(written, name)
    assert ours.bass is not None
    assert degree_letters(ours.bass, ours_key) == plain(theirs.bass().name)
    assert bass_pitch_class(ours, ours_key.pitch_class) == theirs.bass().pitchClass
    assert root_pitch_class(ours, ours_key.pitch_class) == theirs.root().pitchClass
    tones = {pitch.pitchClass for pitch in theirs.pitches}
    assert pitch_classes(ours, ours_key.pitch_class) == tones


@pytest.mark.many
@pytest.mark.parametrize("name", USUAL_MINOR)
@pytest.mark.parametrize(
    ("own", "relative", "figure"),
    [
        ("1-", "6-", "i"),
        ("2o", "7o", "iio"),
        ("b3", "1", "III"),
        ("4-", "2-", "iv"),
        ("5-", "3-", "v"),
        ("5", "3", "V"),
        ("b6", "4", "VI"),
        ("b7", "5", "VII"),
    ],
)
def test_minor_songs_from_either_home(name: str, own: str, relative: str, figure: str) -> None:
    """A minor key's chords are music21's, numbered from its own 1 or from its relative major."""
    theirs = roman.RomanNumeral(figure, oracle_key(name, "minor"))
    spelt = plain(theirs.root().name)
    ours, ours_key = chord_of(own, f"{name} minor")
    assert ours_key.minor
    assert degree_letters(ours.root, ours_key) == spelt
    assert pitch_classes(ours, ours_key.pitch_class) == {p.pitchClass for p in theirs.pitches}
    major = plain(oracle_key(name, "minor").relative.tonic.name)
    from_relative, major_key = chord_of(relative, major)
    assert chord_letters(from_relative, major_key) == chord_letters(ours, ours_key)


# music21 10.5.1 gives C69 no third and no fifth, has no maj9 and no 9sus4 for a major chord, and
# stacks every third in 11 and 13, where common practice leaves out the third or the eleventh.
MUSIC21_NAMES = {("-", "maj7"): "CmM7", ("ø", ""): "Cø7", ("ø", "7"): "Cø7"}
MUSIC21_LACKS = {("", "69"), ("", "maj9"), ("", "9sus4"), ("", "11"), ("", "13")}
# pychord has its own names for these two, and stacks every third in 11 and 13 likewise.
PYCHORD_NAMES = {("-", "maj7"): "CmM7", ("+", "maj7"): "CM7+5"}
PYCHORD_DIFFERS = {("", "11"), ("", "13")}


@pytest.mark.parametrize(
    ("quality", "extension"), [kind for kind in EVERY_KIND if kind not in MUSIC21_LACKS]
)
def test_chord_kinds_against_music21(quality: str, extension: str) -> None:
    """Our letter name of a chord on C, read by music21's ChordSymbol, has our pitch classes."""
    chord = Chord(1, 0, quality, extension)
    name = MUSIC21_NAMES.get((quality, extension), chord_letters(chord, Key("C")))
    theirs = {pitch.pitchClass for pitch in harmony.ChordSymbol(name).pitches}
    assert pitch_classes(chord) == theirs


@pytest.mark.parametrize(
    ("quality", "extension"), [kind for kind in EVERY_KIND if kind not in PYCHORD_DIFFERS]
)
def test_chord_kinds_against_pychord(quality: str, extension: str) -> None:
    """Our letter name of a chord on C, read by pychord, has our very intervals, ninths above."""
    chord = Chord(1, 0, quality, extension)
    name = PYCHORD_NAMES.get((quality, extension), chord_letters(chord, Key("C")))
    theirs = tuple(sorted(pychord.Chord(name).components(visible=False)))
    assert chord_intervals(chord) == theirs


@pytest.mark.parametrize(("extension", "left_out"), [("11", {4}), ("13", {5})])
def test_elevenths_and_thirteenths_leave_out_one_tone(extension: str, left_out: set[int]) -> None:
    """11 is pychord's without the third, 13 without the eleventh (common practice, no source)."""
    theirs = {tone % 12 for tone in pychord.Chord(f"C{extension}").components(visible=False)}
    assert pitch_classes(Chord(1, 0, "", extension)) == theirs - left_out


@pytest.mark.parametrize("name", USUAL_MAJOR)
def test_letter_names_are_read_by_pychord(name: str) -> None:
    """In each of 12 keys, pychord reads our letter names as the pitches we mean."""
    for text in ("1", "2-", "3-", "4", "5^7", "6-^7", "b7", "4-", "5/7", "1/3", "6-/5", "5^7sus4"):
        ours, ours_key = chord_of(text, name)
        theirs = pychord.Chord(chord_letters(ours, ours_key))
        tones = {tone % 12 for tone in theirs.components(visible=False)}
        root = root_pitch_class(ours, ours_key.pitch_class)
        on = bass_pitch_class(ours, ours_key.pitch_class)
        expected = {(root + tone) % 12 for tone in chord_intervals(ours)} | {on}
        # pychord counts from its root's pitch, C = 0, so the tones are pitch classes already.
        assert tones == expected, text
