from __future__ import annotations

import random
from fractions import Fraction
from itertools import pairwise
from statistics import mean

import pytest

from tests.band.heard import play
from tests.band.songs import river_song
from trainer.band.keyboards import VOICES, voice_chords
from trainer.band.timeline import Timeline
from trainer.chart import Bar, Chart, Chord, Event, Feel, Key, Meter, Phrase, Section
from trainer.chart.chords import EXTENSIONS

FOUR = Meter(4, 4)
EVERYDAY = [
    Chord(1),
    Chord(4),
    Chord(5),
    Chord(6, quality="-"),
    Chord(2, quality="-"),
    Chord(3, quality="-"),
    Chord(7, -1),
    Chord(5, extension="7"),
    Chord(4, extension="maj7"),
    Chord(1, extension="sus4"),
    Chord(2, quality="-", extension="7"),
]


def _chart(chords: list[Chord], key: str) -> Chart:
    bars = tuple(Bar(FOUR, (Event(chord, Fraction(4)),)) for chord in chords)
    return Chart(
        "", FOUR, 96.0, Feel.STRAIGHT, Key.parse(key), (Section("Verse", (Phrase(bars),)),)
    )


def _moves(chart: Chart) -> list[float]:
    """Mean semitones that each voice moves at each change of chord."""
    voicings = voice_chords(Timeline.of(chart))
    moves = []
    for before, after in pairwise(voicings):
        assert before is not None
        assert after is not None
        if before != after:
            moves.append(mean(abs(a - b) for a, b in zip(before, after, strict=True)))
    return moves


@pytest.mark.parametrize("key", ["C", "D", "Eb", "F#", "A", "Bb"])
def test_voices_move_less_than_two_semitones(key: str) -> None:
    """Over a song and over chords in any order a voice moves under two semitones on average."""
    rng = random.Random(key)
    drawn = rng.choices(EVERYDAY, k=200)
    assert mean(_moves(river_song(key=key))) < 1.5
    assert mean(_moves(_chart(drawn, key))) < 2.0


def test_every_chord_has_a_voicing_in_register() -> None:
    """Every chord of the vocabulary on every degree gets four voices between C3 and D5."""
    chords = [
        Chord(degree, alteration, quality, extension)
        for quality, listed in EXTENSIONS.items()
        for extension in ("", *listed)
        for degree in range(1, 8)
        for alteration in (-1, 0, 1)
    ]
    for voicing in voice_chords(Timeline.of(_chart(chords, "C"))):
        assert voicing is not None
        assert len(set(voicing)) == VOICES
        assert 48 <= min(voicing) <= max(voicing) <= 74


def test_a_pad_swells_into_tune() -> None:
    """Bends of a steel-like pad start below the note, rise and end in tune within a beat."""
    pad = play(river_song(Feel.TWO_BEAT)).part("pad")
    assert pad is not None
    assert pad.bends
    values = [bend.value for bend in pad.bends]
    assert min(values) < 0 == max(values)
    assert values[-1] == 0
    assert [bend.at_quarters for bend in pad.bends] == sorted(b.at_quarters for b in pad.bends)
