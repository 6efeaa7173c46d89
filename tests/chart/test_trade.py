"""Facts of the trade that any session player would confirm (common practice, no source)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from trainer.chart import (
    Articulation,
    Key,
    bass_pitch_class,
    chord_letters,
    format_chart,
    format_letters,
    parse,
    pitch_classes,
    root_pitch_class,
)
from trainer.chart.keys import USUAL_MAJOR


def names(text: str, key: str = "C") -> list[str]:
    """Letter names of the chords of a line in a key."""
    chords = [event.chord for bar in parse(text).bars() for event in bar.events]
    return [chord_letters(chord, Key.parse(key)) for chord in chords if chord is not None]


def test_one_four_five_in_c() -> None:
    """1 4 5 in C are C, F and G (common practice, no source)."""
    assert names("1 4 5") == ["C", "F", "G"]


def test_five_over_seven_in_c() -> None:
    """5/7 in C is G over B, bass counted in the song's key (common practice, no source)."""
    assert names("5/7") == ["G/B"]
    chord = parse("5/7").bars()[0].events[0].chord
    assert chord is not None
    assert (root_pitch_class(chord), bass_pitch_class(chord)) == (7, 11)
    assert pitch_classes(chord) == {7, 11, 2}


def test_six_minor_in_c() -> None:
    """6- in C is A minor (common practice, no source)."""
    assert names("6-") == ["Am"]
    chord = parse("6-").bars()[0].events[0].chord
    assert chord is not None
    assert pitch_classes(chord) == {9, 0, 4}


def test_a_plain_number_is_major() -> None:
    """A plain 2, 3 or 6 is a major chord (common practice, no source)."""
    assert names("2 3 6") == ["D", "E", "A"]


@pytest.mark.parametrize("key", USUAL_MAJOR)
def test_another_key_changes_nothing_on_the_chart(key: str) -> None:
    """A song in another key has the same numbers; only the key line and the letters differ."""
    body = "Verse:\n1 5/7 6- 4 . (1 5) b7 2-^7 1d\n"
    in_c, in_key = parse(f"key: C\n{body}"), parse(f"key: {key}\n{body}")
    assert in_key.sections == in_c.sections
    assert format_chart(in_key) == format_chart(in_c).replace("key: C", f"key: {key}")
    assert (format_letters(in_key) == format_letters(in_c)) == (key == "C")


def test_a_split_bar_in_four_four_is_two_beats_each() -> None:
    """Two chords in a bar of 4/4 get two beats each unless written otherwise (common practice)."""
    (bar,) = parse("(1 5)").bars()
    assert [event.beats for event in bar.events] == [2, 2]


@pytest.mark.parametrize(("meter", "beats"), [("4/4", 4), ("3/4", 3), ("6/8", 6)])
def test_a_hold_lasts_the_whole_bar(meter: str, beats: int) -> None:
    """A diamond rings for the full bar in 4/4, 3/4 and 6/8 alike (common practice, no source)."""
    chart = parse(f"meter: {meter}\n1d")
    (event,) = chart.bars()[0].events
    assert event.articulation is Articulation.HOLD
    assert event.beats == beats
    assert Fraction(4) * event.beats / chart.meter.unit == chart.meter.quarters


def test_minor_song_from_either_home() -> None:
    """1- in E minor and 6- in G are the same chord (common practice, no source)."""
    assert names("1- b6 b3 b7", "E minor") == names("6- 4 1 5", "G") == ["Em", "C", "G", "D"]
