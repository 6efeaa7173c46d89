"""A second listener for `hearing`: plain templates, which are told when each chord sounds.

It has no model of what usually follows what. The chord is the triad whose template is most like the
mean chroma; the bass is the note up to G3 whose first four partials are strongest.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tests.listening import triads
from tests.transcriber import RATE

__all__ = ["PlainListener"]

HOP, LOWEST, OCTAVES, BINS = 1024, 28, 5, 3
# Semitones above the lowest note from which the chord counts, and up to which the bass lies.
CHORD_FROM, BASS_TO = 8, 24
# How much each partial of a bass counts, by its semitones above it, and how much less each semitone
# up counts.
PARTIALS = {0: 1.0, 12: 0.6, 19: 0.35, 24: 0.25}
HIGHER = 0.018
ATTACK_S = 0.03


class PlainListener:
    """Listens to one sound at `RATE` in one channel."""

    def __init__(self, samples: NDArray[np.float32]) -> None:
        import librosa

        self._spectrum = np.abs(
            librosa.cqt(
                samples,
                sr=RATE,
                hop_length=HOP,
                fmin=librosa.midi_to_hz(LOWEST),
                n_bins=12 * OCTAVES * BINS,
                bins_per_octave=12 * BINS,
                tuning=0.0,
            )
        )

    def hear(self, start_s: float, end_s: float) -> tuple[int, int]:
        """The triad (its root, for a minor one 12 more) and the bass of a stretch of the sound."""
        first = round((start_s + ATTACK_S) * RATE / HOP)
        last = max(first + 1, round(end_s * RATE / HOP))
        mean = self._spectrum[:, first:last].mean(axis=1)
        notes = np.convolve(mean, np.ones(BINS), mode="same")[::BINS]
        chroma = np.zeros(12)
        for step in range(CHORD_FROM, len(notes)):
            chroma[(LOWEST + step) % 12] += notes[step]
        basses = [
            (1 - HIGHER * step) * sum(weight * notes[step + up] for up, weight in PARTIALS.items())
            for step in range(BASS_TO)
        ]
        return int(np.argmax(triads() @ chroma)), (LOWEST + int(np.argmax(basses))) % 12
