"""True peaks by four times oversampling, after ITU-R BS.1770-4, annex 2.

The interpolation filter is a sinc under a Kaiser window, 24 taps to a phase. The standard leaves
the filter open; ours errs by less than 0.1 dB up to 0.9 of half the sample rate.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

__all__ = ["SEGMENT", "TAPS", "segment_peaks"]

SEGMENT = 64
TAPS = 12
_PHASES = 4
_KAISER_BETA = 5.0


@cache
def _interpolator() -> NDArray[np.float32]:
    """Matrix (SEGMENT + 2 TAPS, 3 SEGMENT): a segment and its sides to the values in between."""
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
