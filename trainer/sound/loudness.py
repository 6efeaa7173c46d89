"""Loudness and true peak of audio, measured in pieces so that length costs no memory."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trainer.errors import FileError
from trainer.sound.bs1770 import SEGMENT, TAPS, gated_loudness, segment_peaks

__all__ = ["Loudness", "LoudnessMeter", "measure", "measure_file"]

# The filters ring for much less than the second that each window starts early.
_WINDOW_S, _RUN_IN_S = 10, 1
_PIECE = 65536


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
    for block in _in_pieces(samples, rate) if isinstance(samples, np.ndarray) else samples:
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


def _in_pieces(samples: NDArray[Any], size: int) -> Iterator[NDArray[Any]]:
    for first in range(0, len(samples), size):
        yield samples[first : first + size]


class LoudnessMeter:
    """Measures audio as it comes: `add` blocks, then ask for the `result`."""

    def __init__(self, rate: int) -> None:
        from pyloudnorm import Meter

        self._rate = rate
        self._meter = Meter(rate)
        self._window = _WINDOW_S * rate
        # Blocks that start in a window reach 300 ms into the next.
        self._overhang = -(-3 * rate // 10)
        self._run_in: NDArray[np.float32] = np.zeros((_RUN_IN_S * rate, 1), np.float32)
        self._waiting: list[NDArray[np.float32]] = []
        self._waiting_frames = 0
        self._blocks: list[NDArray[np.float64]] = []
        self._peak = 0.0

    def add(self, block: NDArray[Any]) -> None:
        """Take the next block: int16, or floating point with full scale ±1."""
        scale = 32768.0 if block.dtype == np.int16 else 1.0
        fresh = (block.reshape(len(block), -1) / scale).astype(np.float32)
        self._waiting.append(fresh)
        self._waiting_frames += len(fresh)
        while self._waiting_frames >= self._window + self._overhang:
            self._measure_window()

    def result(self) -> Loudness:
        """Loudness and true peak of all that was added; add nothing afterwards."""
        rest = self._joined()
        if len(rest):
            # Under 400 ms there is no whole block: silence fills it up.
            least = -(-4 * self._rate // 10)
            padding = max(0, least - len(rest)) if not self._blocks else 0
            rest = np.pad(rest, ((0, padding), (0, 0)))
            self._take(rest, len(rest), (len(rest) * 10) // self._rate - 3)
        lufs = gated_loudness(np.concatenate(self._blocks or [np.zeros(0)]))
        peak = 20 * np.log10(self._peak) if self._peak else -np.inf
        return Loudness(lufs, float(peak))

    def _joined(self) -> NDArray[np.float32]:
        return np.concatenate(self._waiting) if self._waiting else np.zeros((0, 1), np.float32)

    def _measure_window(self) -> None:
        """Measure one whole window and keep what follows it."""
        frames = self._joined()
        self._take(frames, self._window, 10 * _WINDOW_S)
        self._run_in = frames[self._window - len(self._run_in) : self._window]
        self._waiting = [frames[self._window :]]
        self._waiting_frames = len(self._waiting[0])

    def _take(self, frames: NDArray[np.float32], window: int, blocks: int) -> None:
        """Note the energies of `blocks` blocks and the highest peak of a window."""
        channels = frames.shape[1]
        before = np.broadcast_to(self._run_in, (len(self._run_in), channels))
        wide = np.concatenate((before, frames[: window + self._overhang]))
        sides = np.pad(
            wide[len(before) - TAPS : len(before) + window + TAPS],
            ((0, max(0, window + TAPS - len(frames)) + -window % SEGMENT), (0, 0)),
        )
        usable = len(sides) - (len(sides) - 2 * TAPS) % SEGMENT
        self._peak = max(self._peak, float(segment_peaks(sides[:usable]).max()))
        if blocks > 0:
            self._meter.integrated_loudness(wide.astype(np.float64))
            levels = np.array(self._meter.blockwise_loudness)[10 * _RUN_IN_S :][:blocks]
            self._blocks.append(10 ** ((levels + 0.691) / 10))
