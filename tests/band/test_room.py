"""The silence before the first sound."""

from __future__ import annotations

import random

import pytest

from trainer.band import Mix, arrange, to_midi
from trainer.chart import parse

SONG = parse("tempo: 100\n1 4 5 1")


def test_half_a_second_comes_before_the_count_off() -> None:
    """Bar times and the length count from the start of the sound, before the click."""
    played = arrange(SONG, rng=random.Random(1))
    assert played.room_s == 0.5
    assert played.bar_times_s[0] == pytest.approx((0.5 + 2.4, 0.5 + 4.8))
    assert played.length_s == played.bar_times_s[-1][1]


def test_the_room_grows_as_the_band_slows_down() -> None:
    """At half the tempo every moment comes twice as late, so a place in the song is kept."""
    full, half = (arrange(SONG, rng=random.Random(1), tempo=tempo) for tempo in (100.0, 50.0))
    for one, other in zip(full.bar_times_s, half.bar_times_s, strict=True):
        assert other == pytest.approx((2 * one[0], 2 * one[1]))


def test_the_1_comes_after_the_room_and_bars_alone_have_none() -> None:
    """Where the 1 comes first it is waited for as well; bars without either are heard at once."""
    home = arrange(SONG, rng=random.Random(1), mix=Mix(tonic_first=True), count_off=False)
    assert home.room_s == 0.5
    assert arrange(SONG, rng=random.Random(1), count_off=False).bar_times_s[0][0] == 0.0


def test_a_midi_file_begins_with_the_count_off() -> None:
    """A MIDI file has no room, so that its bar lines are those of the music."""
    midi = to_midi(arrange(SONG, rng=random.Random(1)))
    clicks = next(each for each in midi.instruments if each.name == "count-off")
    assert clicks.notes[0].start == 0.0
