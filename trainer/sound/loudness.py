"""A meter of integrated loudness and true peak that takes audio in pieces.

The audio is K-weighted by fast Fourier transform, block by block (overlap-save), so memory does not
grow with its length. numpy alone is needed; pyloudnorm is the reference in the tests.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trainer.errors import FileError
from trainer.sound.bs1770 import TAPS, gated_loudness, k_weighting_response, segment_peaks

__all__ = ["Loudness", "LoudnessMeter", "measure", "measure_file"]

# Frames of a transform, and those of them that repeat the block before. The weighting rings for
# less than 0.1 s; the overlap is 0.17 s at 96 kHz and longer at lower rates.
_TRANSFORM, _OVERLAP = 131072, 16384
_HOP = _TRANSFORM - _OVERLAP
_PIECE = 65536
# Energies are kept for each tenth of a second; four of them make a gating block.
_BINS_A_SECOND, _BINS_IN_BLOCK = 10, 4


@dataclass(frozen=True, slots=True)
class Loudness:
    """Integrated loudness (LUFS) and true peak (dBTP), both −inf for silence.

    Source: ITU-R BS.1770-4, annexes 1 and 2.
    """

    lufs: float
    true_peak_dbtp: float


def measure(samples: NDArray[Any] | Iterable[NDArray[Any]], rate: int) -> Loudness:
    """Measure audio.

    Parameters
    ----------
    samples : (n, channels) or (n,), int16 or floating point with full scale ±1; or an iterable of
        such blocks, for instance a Rendering. A single channel counts as one loudspeaker.
    rate : frames a second.
    """
    meter = LoudnessMeter(rate)
    for block in _pieces(samples) if isinstance(samples, np.ndarray) else samples:
        meter.add(block)
    return meter.result()


def measure_file(path: Path) -> Loudness:
    """Measure an audio file; raises FileError if it cannot be read."""
    import soundfile

    try:
        with soundfile.SoundFile(path) as file:
            return measure(file.blocks(_PIECE, dtype="float32", always_2d=True), file.samplerate)
    except (OSError, soundfile.SoundFileError) as error:
        raise FileError(f"audio file {path}: {error}") from error


def _pieces(samples: NDArray[Any]) -> Iterator[NDArray[Any]]:
    for first in range(0, len(samples), _PIECE):
        yield samples[first : first + _PIECE]


class LoudnessMeter:
    """Measures audio as it comes: `add` blocks, then ask for the `result`."""

    def __init__(self, rate: int) -> None:
        self._rate = rate
        frequencies_hz = np.fft.rfftfreq(_TRANSFORM, 1 / rate).astype(np.float64)
        self._response = k_weighting_response(frequencies_hz).astype(np.complex64)
        self._before: NDArray[np.float32] | None = None
        self._waiting: list[NDArray[np.float32]] = []
        self._waiting_frames = self._frames = 0
        # Sums of squares of weighted frames, for each tenth of a second.
        self._bins: list[NDArray[np.float64]] = []
        self._rest: NDArray[np.float64] = np.zeros(0)
        self._bin_count = 0
        self._peak = 0.0

    def add(self, block: NDArray[Any]) -> None:
        """Measure the next block: int16, or floating point with full scale ±1."""
        scale = 32768.0 if block.dtype == np.int16 else 1.0
        fresh = (block.reshape(len(block), -1) / scale).astype(np.float32)
        self._frames += len(fresh)
        self._wait(fresh)

    def result(self) -> Loudness:
        """Loudness and true peak of all that was added; nothing may be added afterwards."""
        frames, waiting = self._frames, self._waiting_frames
        if frames:
            # Silence flushes the last frames; under 400 ms it also fills up the only gating block.
            least = -(-_BINS_IN_BLOCK * self._rate // _BINS_A_SECOND)
            missing = max(waiting + TAPS, least - (frames - waiting))
            self._wait(np.zeros((-(-missing // _HOP) * _HOP - waiting, self._channels), np.float32))
        blocks = max(1, frames * _BINS_A_SECOND // self._rate - _BINS_IN_BLOCK + 1)
        sums = np.concatenate(self._bins or [np.zeros(_BINS_IN_BLOCK)])
        energies = np.convolve(sums, np.ones(_BINS_IN_BLOCK), mode="valid")[:blocks]
        lufs = gated_loudness(energies * _BINS_A_SECOND / (_BINS_IN_BLOCK * self._rate))
        peak = 20 * np.log10(self._peak) if self._peak else -np.inf
        return Loudness(lufs, float(peak))

    @property
    def _channels(self) -> int:
        return self._waiting[0].shape[1] if self._waiting else 1

    def _wait(self, fresh: NDArray[np.float32]) -> None:
        """Put frames behind those that wait, and measure every whole hop of them."""
        self._waiting.append(fresh)
        self._waiting_frames += len(fresh)
        if self._waiting_frames < _HOP:
            return
        frames = np.concatenate(self._waiting)
        whole = len(frames) // _HOP * _HOP
        for first in range(0, whole, _HOP):
            self._measure(frames[first : first + _HOP])
        self._waiting = [frames[whole:]]
        self._waiting_frames = len(frames) - whole

    def _measure(self, hop: NDArray[np.float32]) -> None:
        """Measure one hop; its last frames are looked at again with the next one."""
        if self._before is None:
            self._before = np.zeros((_OVERLAP, hop.shape[1]), np.float32)
        wide = np.concatenate((self._before, hop))
        self._before = wide[-_OVERLAP:]
        # The interpolation of a frame needs those on both sides, so peaks lag by some frames.
        self._peak = max(self._peak, float(segment_peaks(wide[_OVERLAP - 2 * TAPS :]).max()))
        spectrum = np.fft.rfft(np.ascontiguousarray(wide.T))
        weighted = np.fft.irfft(spectrum * self._response, n=_TRANSFORM)[:, _OVERLAP:]
        self._add_energies((weighted.astype(np.float64) ** 2).sum(axis=0))

    def _add_energies(self, squares: NDArray[np.float64]) -> None:
        """Add weighted squares, one a frame, to the sums for each tenth of a second."""
        squares = np.concatenate((self._rest, squares))
        start = self._bin_count * self._rate // _BINS_A_SECOND
        last = (start + len(squares)) * _BINS_A_SECOND // self._rate
        edges = np.arange(self._bin_count, last + 1) * self._rate // _BINS_A_SECOND - start
        if last > self._bin_count:
            self._bins.append(np.add.reduceat(squares[: edges[-1]], edges[:-1]))
        self._rest = squares[edges[-1] :]
        self._bin_count = last
