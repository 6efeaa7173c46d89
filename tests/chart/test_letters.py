from __future__ import annotations

import pytest

from trainer.chart import Chord, Degree, Key, chord_letters, format_letters, parse
from trainer.chart.letters import degree_letters


def in_key(text: str, key: str, shift: int = 0) -> str:
    """Letter name of a chord typed as notation."""
    chord = parse(text).bars()[0].events[0].chord
    assert chord is not None
    return chord_letters(chord, Key.parse(key), shift)


@pytest.mark.parametrize(
    ("text", "key", "expected"),
    [
        ("6-", "Eb", "Cm"),
        ("5/7", "E", "B/D#"),
        ("b7", "F", "Eb"),
        ("3", "G#", "B#"),
        ("4", "F", "Bb"),
        ("#4o", "C", "F#dim"),
        ("b2", "Db", "Ebb"),
        ("b7", "Eb", "Db"),
        ("7o", "F#", "E#dim"),
        ("7", "G#", "F##"),
        ("b6", "Gb", "Ebb"),
        ("b3", "E minor", "G"),
        ("1-", "E minor", "Em"),
        ("b6^maj7", "C minor", "Abmaj7"),
        ("5^7b9", "A minor", "E7b9"),
        ("1/b7", "D", "D/C"),
        ("4-/b6", "Bb", "Ebm/Gb"),
    ],
)
def test_spelling_follows_degree_and_key(text: str, key: str, expected: str) -> None:
    """A degree is spelt with its own letter of the key's scale (common practice, no source)."""
    assert in_key(text, key) == expected


@pytest.mark.parametrize(
    ("degree", "key", "expected"),
    [
        (Degree(7, 1), "G#", "G#"),
        (Degree(3, 1), "B#", "E#"),
        (Degree(4, -1), "Fb", "Ab"),
        (Degree(6, -1), "Cb", "Abb"),
    ],
)
def test_no_letter_takes_three_signs(degree: Degree, key: str, expected: str) -> None:
    """Where its own letter would take three signs, the next letter is used instead."""
    assert degree_letters(degree, Key.parse(key)) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1-^7", "Cm7"),
        ("1-^maj7", "Cm(maj7)"),
        ("1o^7", "Cdim7"),
        ("1+", "Caug"),
        ("1+^7", "C7#5"),
        ("1+^maj7", "Cmaj7#5"),
        ("1ø", "Cm7b5"),
        ("1ø^7", "Cm7b5"),
        ("1^sus4", "Csus4"),
        ("1^9sus4", "C9sus4"),
        ("1^5", "C5"),
        ("1^add9/3", "Cadd9/E"),
    ],
)
def test_trade_spelling(text: str, expected: str) -> None:
    """Qualities and extensions are spelt as chord sheets do (common practice, no source)."""
    assert in_key(text, "C") == expected


@pytest.mark.parametrize(
    ("key", "shift", "expected"),
    [("C", 1, "Db"), ("E", 2, "F#"), ("G", -2, "F"), ("B", 1, "C"), ("Gb", 0, "Gb"),
     ("Gb", 12, "Gb"), ("E minor", 4, "G#"), ("D minor", 1, "Eb")],
)  # fmt: skip
def test_a_moved_key_has_its_usual_name(key: str, shift: int, expected: str) -> None:
    """After a key move the 1 is called by the key's usual name; unmoved, as it was written."""
    assert chord_letters(Chord(1), Key.parse(key), shift) == expected


def test_a_chart_in_letters_is_laid_out_like_its_notation() -> None:
    """Letters stand where the numbers stood; later bars are in the key that holds there."""
    chart = parse(
        "title: Ferry\nkey: E\n\nVerse:\n1 5/7 . 0 (6-''' 5'p)\n\nTag:\n[up 2] 4 1d [2/4] 5c"
    )
    assert format_letters(chart).split("\n\n", 1)[1] == (
        "Verse:\nE B/D# . NC (C#m''' B'(push))\n\nTag:\n[key F#] B F#(hold) [2/4] C#(choke)\n"
    )
    assert format_letters(chart).startswith("title: Ferry\nmeter: 4/4\n")
