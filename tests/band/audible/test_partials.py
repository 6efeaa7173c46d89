"""What the timbres of the band add to the notes that are played."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from trainer.band.arrange import (
    ELECTRIC_PIANO,
    FRETLESS_BASS,
    NYLON_STRINGS,
    RECORDER,
    VOICE_OOHS,
    WOUND_STRINGS,
)
from trainer.sound import Synth
from trainer.sound.engine import SynthEngine

RATE = 44100


def _partials_db(synth: Synth, program: int, pitch: int) -> NDArray[np.float64]:
    """The levels of the first six partials of a note of one second."""
    engine = SynthEngine(synth.soundfont, RATE, reverb=False)
    engine.select(0, program, is_drum=False)
    engine.note_on(0, pitch, 90)
    sound = np.zeros((RATE, 2), np.float32)
    engine.render(sound, 0, RATE)
    engine.close()
    spectrum = np.abs(np.fft.rfft(sound.mean(axis=1) * np.hanning(RATE)))
    hertz = 440 * 2 ** ((pitch - 69) / 12)
    peaks = [spectrum[int(0.98 * n * hertz) : int(1.02 * n * hertz) + 2].max() for n in range(1, 7)]
    return 20 * np.log10(np.array(peaks) + 1e-9)


@pytest.mark.parametrize("pitch", [60, 67, 72])
def test_the_voice_sings_no_chord_of_its_own(synth: Synth, pitch: int) -> None:
    """The third and fifth partial of a sung note, which make a major chord of it, are 12 dB or more
    softer than its fundamental."""
    partials = _partials_db(synth, VOICE_OOHS, pitch)
    assert max(partials[2], partials[4]) < partials[0] - 12


@pytest.mark.parametrize("program", [ELECTRIC_PIANO, RECORDER])
def test_pad_and_lead_play_no_chord_of_their_own(synth: Synth, program: int) -> None:
    """Of what leads or sustains, the fifth partial is 20 dB softer than the fundamental, and the
    third 6 dB on average over the register."""
    partials = np.array([_partials_db(synth, program, pitch) for pitch in (60, 64, 67, 72)])
    over = partials - partials[:, :1]
    assert over[:, 4].mean() < -20
    assert over[:, 2].mean() < -6


@pytest.mark.parametrize(
    ("program", "pitches"),
    [
        (FRETLESS_BASS, (33, 36, 41)),
        (WOUND_STRINGS.program, (40, 45, 48)),
        (NYLON_STRINGS, (49, 52, 57)),
    ],
)
def test_low_notes_have_a_fundamental(synth: Synth, program: int, pitches: tuple[int, ...]) -> None:
    """The fundamental of the notes that say the bass is the loudest partial, or nearly so."""
    assert all((pitch < WOUND_STRINGS.below) == (program != NYLON_STRINGS) for pitch in pitches)
    for pitch in pitches:
        partials = _partials_db(synth, program, pitch)
        assert partials[0] > partials.max() - 8
