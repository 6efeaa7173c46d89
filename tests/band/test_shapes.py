from __future__ import annotations

import music21
import pytest

from tests.thorough import is_thorough
from trainer.band import shapes
from trainer.band.shapes import choose_capo, find_shape, pitches
from trainer.chart.chords import EXTENSIONS, intervals

# Standard tuning E2 A2 D3 G3 B3 E4 (common practice, no source).
STANDARD = ("E2", "A2", "D3", "G3", "B3", "E4")
EVERY_CHORD = [
    (quality, extension) for quality, listed in EXTENSIONS.items() for extension in ("", *listed)
]
# A normal run tries one in so many of the pairs of a root and a bass, other ones for each chord.
PARTS = 6
TRIAD_NAMES = {"": "major triad", "-": "minor triad", "+": "augmented triad"}


def _tones(root: int, quality: str, extension: str) -> tuple[int, ...]:
    return tuple((root + step) % 12 for step in intervals(quality, extension))


def _sounding(shape: shapes.Shape) -> list[int]:
    return [pitch for _, pitch in pitches(shape)]


def test_the_tuning_is_standard() -> None:
    """Open strings sound the pitches of standard tuning."""
    assert tuple(music21.pitch.Pitch(name).midi for name in STANDARD) == shapes.TUNING


@pytest.mark.many
@pytest.mark.parametrize("root", range(12))
@pytest.mark.parametrize(("quality", "name"), TRIAD_NAMES.items())
def test_triads_are_what_they_are_called(root: int, quality: str, name: str) -> None:
    """music21 hears every triad's shape as that triad on that root, the root lowest."""
    shape = find_shape(root, quality, "", _tones(root, quality, ""), root)
    chord = music21.chord.Chord(_sounding(shape))
    assert chord.commonName == name
    assert chord.bass().pitchClass == root
    if quality != "+":
        assert chord.root().pitchClass == root


@pytest.mark.parametrize("root", range(12))
@pytest.mark.parametrize(
    ("extension", "name", "incomplete"),
    [
        ("maj7", "major seventh chord", "incomplete major-seventh chord"),
        ("7", "dominant seventh chord", "incomplete dominant-seventh chord"),
    ],
)
def test_sevenths_are_what_they_are_called(
    root: int, extension: str, name: str, incomplete: str
) -> None:
    """music21 hears every seventh chord's shape as that seventh chord, whole or less its fifth."""
    shape = find_shape(root, "", extension, _tones(root, "", extension), root)
    chord = music21.chord.Chord(_sounding(shape))
    assert chord.commonName.removeprefix("enharmonic equivalent to ") in (name, incomplete)


@pytest.mark.many
@pytest.mark.hypothesis
@pytest.mark.parametrize(("quality", "extension"), EVERY_CHORD)
def test_every_chord_over_every_bass_has_a_shape(quality: str, extension: str) -> None:
    """A shape sounds only its chord and bass, the bass lowest, within four fingers and frets."""
    turn = 0 if is_thorough() else 1 + EVERY_CHORD.index((quality, extension)) % PARTS
    for root in range(12):
        tones = _tones(root, quality, extension)
        for bass in range(12):
            if turn and (root + bass + turn) % PARTS:
                continue
            shape = find_shape(root, quality, extension, tones, bass)
            sounding = _sounding(shape)
            fretted = [fret for fret in shape if fret]
            assert {pitch % 12 for pitch in sounding} <= {*tones, bass}
            assert min(sounding) % 12 == bass
            assert len(sounding) >= 3
            assert not fretted or max(fretted) - min(fretted) <= 3
            assert shapes._fingers(shape) <= 4


@pytest.mark.parametrize(("quality", "extension"), EVERY_CHORD)
def test_the_third_is_never_left_out(quality: str, extension: str) -> None:
    """Whatever a big chord leaves out, the tone that makes it major or minor sounds."""
    thirds = {3, 4} & set(intervals(quality, extension))
    for root in range(12):
        shape = find_shape(root, quality, extension, _tones(root, quality, extension), root)
        sounding = {(pitch - root) % 12 for pitch in _sounding(shape)}
        assert thirds & sounding or not thirds


@pytest.mark.parametrize(
    ("key", "capo"),
    [
        (0, 0),
        (2, 0),
        (7, 0),
        (9, 2),
        (4, 2),
        (5, 3),
        (10, 3),
        (3, 1),
        (8, 1),
        (1, 1),
    ],
)
def test_the_capo_is_where_a_player_would_put_it(key: int, capo: int) -> None:
    """C, D and G need no capo; A and E are played as G and D two frets up, F and B flat on the
    third fret, E flat, A flat and D flat on the first (common practice, no source)."""
    degrees = [(0, ""), (5, ""), (7, ""), (9, "-"), (2, "-")]
    chords = [((key + step) % 12, quality, "", (key + step) % 12) for step, quality in degrees]
    assert choose_capo(chords) == capo


def test_three_chords_in_e_need_no_capo() -> None:
    """E, A and B7 are all open shapes."""
    assert choose_capo([(4, "", "", 4), (9, "", "", 9), (11, "", "7", 11)]) == 0


def test_slash_basses_stay_under_the_capo() -> None:
    """F is played from the third fret, unless it has a 5/1, whose bass that capo would lift from F2
    by an octave."""
    degrees = [(0, ""), (5, ""), (7, ""), (9, "-"), (2, "-")]
    chords = [((5 + step) % 12, quality, "", (5 + step) % 12) for step, quality in degrees]
    assert choose_capo(chords) == 3
    lowest = shapes.TUNING[0] + choose_capo([*chords, (0, "", "", 5)])
    assert lowest + (5 - lowest) % 12 < 48
