"""The parts of ITU-R BS.1770-4 that loudness and true peak are measured with.

Annex 1 gives the K-weighting filters and the gating of integrated loudness, annex 2 the true
peak: the highest value of the waveform between the samples, found by oversampling four times.
The standard leaves the interpolation filter open. Ours is a sinc under a Kaiser window with 24
taps to a phase; it errs by less than 0.1 dB up to 0.9 of half the sample rate.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["SEGMENT", "TAPS", "gated_loudness", "k_weighting_response", "segment_peaks"]

SEGMENT = 64
TAPS = 12
_PHASES = 4
_KAISER_BETA = 5.0
# Annex 1, tables 1 and 2: the two filters at 48 kHz, each as (numerator, denominator).
_TABLED_RATE_HZ = 48000
_SHELF = (
    (1.53512485958697, -2.69169618940638, 1.19839281085285),
    (1.0, -1.69065929318241, 0.73248077421585),
)
_HIGH_PASS = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))


def k_weighting_response(frequencies_hz: NDArray[np.float64]) -> NDArray[np.complex128]:
    """The complex gain of K-weighting at each frequency, of the same shape.

    The standard tables its filters for 48 kHz. Their response is taken at the frequencies asked
    for, so it is the same at every sample rate; above 24 kHz it stays as it is there.
    """
    reached = np.minimum(frequencies_hz, _TABLED_RATE_HZ / 2)
    z = np.exp(-2j * np.pi * reached / _TABLED_RATE_HZ)
    response = np.ones_like(z)
    for over, under in (_SHELF, _HIGH_PASS):
        response *= np.polyval(over[::-1], z) / np.polyval(under[::-1], z)
    return response


def gated_loudness(blocks: NDArray[np.float64]) -> float:
    """Integrated loudness in LUFS; −inf if there is only silence.

    Blocks at or under −70 LUFS are left out, then those at or under 10 LU below the mean of the
    rest.

    Parameters
    ----------
    blocks : (n,); K-weighted mean square, channels added, of blocks of 400 ms that overlap by 75%.
    """
    loud = blocks[blocks > 10 ** ((-70.0 + 0.691) / 10)]
    if not len(loud):
        return float(-np.inf)
    loud = loud[loud > loud.mean() / 10]
    return float(-0.691 + 10 * np.log10(loud.mean()))


@cache
def _interpolator() -> NDArray[np.float32]:
    """The interpolation as a matrix, (SEGMENT + 2 TAPS, 3 SEGMENT).

    It takes a segment with its surroundings to the three values between any two frames of it.
    """
    offsets = np.arange(-TAPS + 1, TAPS + 1)
    matrix = np.zeros((SEGMENT + 2 * TAPS, _PHASES - 1, SEGMENT))
    for phase in range(1, _PHASES):
        at = offsets - phase / _PHASES
        window = np.i0(_KAISER_BETA * np.sqrt(np.clip(1 - (at / TAPS) ** 2, 0, 1)))
        taps = np.sinc(at) * window
        taps /= taps.sum()
        for frame in range(SEGMENT):
            matrix[frame + 1 : frame + 1 + 2 * TAPS, phase - 1, frame] = taps
    return matrix.reshape(SEGMENT + 2 * TAPS, -1).astype(np.float32)


def segment_peaks(samples: NDArray[np.float32], above: float = 0.0) -> NDArray[np.float32]:
    """The highest true peak of each segment of 64 frames.

    Parameters
    ----------
    samples : float32 (TAPS + 64 n + TAPS, channels); the outer 12 frames on each side are context.
    above : segments whose samples all stay at or under this are not oversampled.

    Returns
    -------
    float32 (n,), over all channels.
    """
    channels = samples.shape[1]
    inner = np.abs(samples[TAPS:-TAPS])
    peaks: NDArray[np.float32] = inner.reshape(-1, SEGMENT, channels).max(axis=(1, 2))
    loud = np.flatnonzero(peaks > above)
    if len(loud):
        sides = np.lib.stride_tricks.sliding_window_view(samples, SEGMENT + 2 * TAPS, axis=0)
        between = sides[loud * SEGMENT].reshape(-1, SEGMENT + 2 * TAPS) @ _interpolator()
        highest = np.abs(between).max(axis=1).reshape(-1, channels).max(axis=1)
        peaks[loud] = np.maximum(peaks[loud], highest)
    return peaks
