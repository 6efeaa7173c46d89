"""Ears for the tests: what can be told from a sound alone, by spectra and energies (numpy only).

Nothing here sees a note. A listener is told when the bars start, as a learner hears the count, and
no more.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "HOP",
    "RATE",
    "SPOKEN_S",
    "Sound",
    "attacks",
    "band_energy",
    "bass_pitch_class",
    "level_db",
]

RATE = 22050
FRAME, HOP = 1024, 128
Samples = NDArray[np.float64]


@dataclass(frozen=True)
class Sound:
    """Audio in one channel at `RATE`, and the start and end of each bar in seconds."""

    samples: Samples
    bars: tuple[tuple[float, float], ...]

    @classmethod
    def of(
        cls, blocks: Iterable[NDArray[np.int16]], bars: tuple[tuple[float, float], ...]
    ) -> Sound:
        """The sound of a rendering at `RATE`."""
        return cls(np.concatenate(list(blocks)).mean(axis=1) / 32768.0, bars)

    def cut(self, start_s: float, end_s: float) -> Samples:
        """The samples between two times."""
        return self.samples[max(0, round(start_s * RATE)) : round(end_s * RATE)]


def level_db(samples: Samples) -> float:
    """Root mean square in dB of full scale."""
    return float(10 * np.log10(np.mean(samples**2) + 1e-12))


def _spectra(samples: Samples) -> Samples:
    """Power spectra of frames centred on every `HOP` samples, (frames, bins)."""
    padded = np.pad(samples, FRAME // 2)
    frames = np.lib.stride_tricks.sliding_window_view(padded, FRAME)[::HOP]
    return np.abs(np.fft.rfft(frames * np.hanning(FRAME), axis=1)) ** 2


def band_energy(samples: Samples, low_hz: float, high_hz: float) -> Samples:
    """Energy between two frequencies in each frame of `HOP` samples."""
    frequencies = np.fft.rfftfreq(FRAME, 1 / RATE)
    chosen = (frequencies >= low_hz) & (frequencies < high_hz)
    return np.asarray(_spectra(samples)[:, chosen].sum(axis=1))


def attacks(
    samples: Samples, low_hz: float = 80.0, high_hz: float = 4000.0, share: float = 0.1
) -> Samples:
    """Times in seconds at which something is struck: peaks of the spectrum's growth.

    Growth is of compressed magnitudes, each bin's against the loudest of its neighbours before
    (Boeck & Widmer 2013, from memory); a peak is the largest for 60 ms around and reaches `share`
    of the largest of all.
    """
    frequencies = np.fft.rfftfreq(FRAME, 1 / RATE)
    chosen = (frequencies >= low_hz) & (frequencies < high_hz)
    magnitude = np.log1p(10 * np.sqrt(_spectra(samples)[:, chosen]))
    before = np.pad(magnitude, ((0, 0), (1, 1)), mode="edge")
    before = np.maximum(np.maximum(before[:, :-2], before[:, 1:-1]), before[:, 2:])
    lag = FRAME // 4 // HOP
    growth = np.maximum(magnitude[lag:] - before[:-lag], 0).sum(axis=1)
    growth = np.pad(growth, (lag, 0))
    reach = round(0.06 * RATE / HOP)
    around = np.lib.stride_tricks.sliding_window_view(np.pad(growth, reach), 2 * reach + 1)
    peaks = (growth == around.max(axis=1)) & (growth >= share * growth.max())
    return np.flatnonzero(peaks) * HOP / RATE


# The notes a bass line may have: E1 to G3.
BASS_NOTES = np.arange(28, 56)
BASS_HZ = 440.0 * 2.0 ** ((BASS_NOTES - 69) / 12)
# How much each partial counts, and how much louder a note an octave higher must be to be the bass,
# in nepers: of notes about as loud the lowest is.
PARTIALS = (1.0, 0.5, 0.25, 0.12)
TILT = 1.0
# A bass has spoken, and a kick is over, this long after they are struck.
SPOKEN_S = 0.06


def bass_pitch_class(samples: Samples) -> int:
    """The pitch class of the bass, by the harmonic product of the spectrum below 200 Hz.

    A note's loudness is the weighted geometric mean of its partials' magnitudes, each the largest
    within a third of a semitone (harmonic product spectrum: Noll 1969, from memory).
    """
    size = 1 << 17
    magnitude = np.abs(np.fft.rfft(samples * np.hanning(len(samples)), size))
    per_bin = RATE / size
    floor = 1e-3 * magnitude[: round(1000 / per_bin)].max() + 1e-12
    loudness = -TILT * BASS_NOTES / 12
    for partial, weight in enumerate(PARTIALS, start=1):
        for place, hertz in enumerate(BASS_HZ * partial):
            low, high = hertz * 2 ** (-1 / 36), hertz * 2 ** (1 / 36)
            peak = magnitude[int(low / per_bin) : int(high / per_bin) + 2].max()
            loudness[place] += weight / sum(PARTIALS) * np.log(max(peak, floor))
    return int(BASS_NOTES[int(np.argmax(loudness))] % 12)
