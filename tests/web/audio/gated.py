"""A rendering that comes when it is let."""

from __future__ import annotations

import threading
from collections.abc import Generator, Iterator

import numpy as np
from numpy.typing import NDArray

from tests.patience import PATIENCE_S
from trainer.sound import wav_header
from trainer.web.audio import AudioLibrary
from trainer.web.audio.cache import CachedFile

__all__ = ["BLOCK_BYTES", "Gated"]

BLOCK_FRAMES = 2000
BLOCK_BYTES = 4 * BLOCK_FRAMES


class Gated:
    """Twelve blocks of noise; `let(n)` lets n of them through, `fail()` breaks it off.

    `begun` counts how often it was asked for, `iterated` how often it was made. What is asked for
    from the middle comes without being let: `ahead` counts its blocks, `ahead_fails` breaks it off.
    `timed_out` says that a block was never let: the test has waited for something that could not
    come.
    """

    sample_rate, gain = 44100, 1.0

    def __init__(self, blocks: int = 12) -> None:
        rng = np.random.default_rng(5)
        self.noise = [
            rng.integers(-9000, 9000, (BLOCK_FRAMES, 2)).astype(np.int16) for _ in range(blocks)
        ]
        self.frames = blocks * BLOCK_FRAMES
        self.duration_s = self.frames / self.sample_rate
        self.begun = self.iterated = self.ahead = 0
        self.ahead_fails = self.timed_out = False
        self._allowed = threading.Semaphore(0)
        self._broken = False

    @property
    def wav(self) -> bytes:
        """What the whole is as a file."""
        samples = b"".join(block.tobytes() for block in self.noise)
        return wav_header(self.frames, self.sample_rate) + samples

    def let(self, blocks: int | None = None) -> None:
        """Let some more blocks come, or all."""
        self._allowed.release(len(self.noise) + 1 if blocks is None else blocks)

    def fail(self) -> None:
        """Let it break off at the next block."""
        self._broken = True
        self.let(1)

    def __iter__(self) -> Iterator[NDArray[np.int16]]:
        self.iterated += 1
        for block in self.noise:
            if not self._allowed.acquire(timeout=PATIENCE_S):
                self.timed_out = True
                raise TimeoutError("a block was not let come")
            if self._broken:
                raise MemoryError("no more notes")
            yield block

    def blocks(self, start: int) -> Generator[NDArray[np.int16]]:
        """From a frame on, at once."""
        samples = np.concatenate(self.noise)
        for first in range(start, self.frames, BLOCK_FRAMES):
            if self.ahead_fails:
                raise MemoryError("no more synths")
            self.ahead += 1
            yield samples[first : first + BLOCK_FRAMES]


def open_flac(library: AudioLibrary, key: str) -> CachedFile:
    """Wait for a sound as FLAC. Raises as `AudioLibrary.open_wav`."""
    request = library.request_flac(key)
    try:
        request.wait()
        return request.open()
    finally:
        request.close()
