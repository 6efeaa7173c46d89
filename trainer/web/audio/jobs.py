"""A sound while it is made."""

from __future__ import annotations

import logging
import os
import threading
import time
from collections.abc import Callable, Generator
from typing import BinaryIO

from trainer.errors import TrainerError
from trainer.sound import Rendering
from trainer.sound.files import WAV_HEADER_BYTES
from trainer.sound.rendering import Block
from trainer.web.audio.cache import AudioCache

__all__ = ["FRAME_BYTES", "Prefetcher", "RenderJob", "wav_size"]

FRAME_BYTES = 4

# How long a reader still counts as waiting, so that a sound somebody hears does not give way
# between two reads.
_EAGER_S = 0.5
_LOG = logging.getLogger(__name__)


def wav_size(rendering: Rendering) -> int:
    """Bytes of a rendering as a WAV file."""
    return WAV_HEADER_BYTES + rendering.frames * FRAME_BYTES


class RenderJob:
    """A sound while it is made: one thread adds to it, any number read what is there so far.

    It goes into a file of the cache. If that cannot be written (a full disk), it goes on in memory
    and is heard all the same.

    Parameters
    ----------
    rendering : what is made of it.
    left : called when a reader leaves.

    Attributes
    ----------
    readers : how many read; the pool counts them.
    stopped : the pool wants no more of it.
    finished : everything was added.
    """

    def __init__(
        self, cache: AudioCache, name: str, rendering: Rendering, left: Callable[[RenderJob], None]
    ) -> None:
        self.name, self.rendering, self.size = name, rendering, wav_size(rendering)
        self.readers = 0
        self.stopped = self.finished = False
        self._cache, self._left = cache, left
        self._news = threading.Condition()
        self._written = self._waiting = 0
        self._waited_at = float("-inf")
        self._failure: str | None = None
        self._memory = bytearray()
        self._path = cache.unfinished(name)
        cache.hold(name)
        self._file: BinaryIO | None = None
        try:
            self._path.parent.mkdir(parents=True, exist_ok=True)
            self._file = self._path.open("w+b", buffering=0)
        except OSError as error:
            self._say_why(error)

    @property
    def need(self) -> int:
        """How much it is needed: 2 while somebody waits for its first sound, 1 while somebody
        waits for more of it, else 0."""
        if self._waiting == 0 and time.monotonic() - self._waited_at >= _EAGER_S:
            return 0
        return 1 if self._written > WAV_HEADER_BYTES else 2

    @property
    def written(self) -> int:
        """Bytes made so far."""
        return self._written

    @property
    def in_memory(self) -> bool:
        """Whether the disk does not hold it."""
        return self._file is None

    def add(self, data: bytes) -> None:
        """Add what was made."""
        with self._news:
            if self._file is not None:
                try:
                    _write(self._file, data)
                except OSError as error:
                    self._move_to_memory(self._file, error)
            if self._file is None:
                self._memory += data
            self._written += len(data)
            self._news.notify_all()

    def finish(self) -> None:
        """Everything was added: keep the file."""
        if self._file is not None:
            try:
                os.fsync(self._file.fileno())
                self._cache.finish(self._path, self.name)
            except OSError as error:
                with self._news:
                    self._move_to_memory(self._file, error)
        self.finished = True

    def fail(self, why: str) -> None:
        """Nothing more will come."""
        with self._news:
            self._failure = why
            self._news.notify_all()

    def close(self) -> None:
        """Let go of the bytes, when nobody reads and nobody adds any more."""
        with self._news:
            file, self._file = self._file, None
            self._memory = bytearray()
        if file is not None:
            file.close()
            self._path.unlink(missing_ok=True)
        self._cache.release(self.name)

    def wait_for(self, at: int) -> None:
        """Wait until the byte at `at` is there. Raises TrainerError if it never comes."""
        with self._news:
            self._wait_for(at)

    def read(self, at: int, most: int) -> bytes:
        """One to `most` bytes from `at`, as soon as there are any. Raises as `wait_for`."""
        with self._news:
            self._wait_for(at)
            most = min(most, self._written - at)
            if self._file is not None:
                return os.pread(self._file.fileno(), most, at)
            return bytes(memoryview(self._memory)[at : at + most])

    def leave(self) -> None:
        """Read no more."""
        self._left(self)

    def _wait_for(self, at: int) -> None:
        if self._written > at:
            return
        self._waiting += 1
        try:
            while self._written <= at and self._failure is None:
                self._news.wait()
        finally:
            self._waiting -= 1
            self._waited_at = time.monotonic()
        if self._written <= at:
            raise TrainerError(self._failure or "nothing was made")

    def _move_to_memory(self, file: BinaryIO, error: OSError) -> None:
        self._say_why(error)
        self._memory += os.pread(file.fileno(), self._written, 0)
        self._file = None
        file.close()
        self._path.unlink(missing_ok=True)

    def _say_why(self, error: OSError) -> None:
        _LOG.warning(
            "a sound goes on in memory and is not kept: %s: %s",
            self._cache.folder,
            error.strerror or error,
        )


def _write(file: BinaryIO, data: bytes) -> None:
    """Write all of it: an unbuffered file may take a part only."""
    rest = memoryview(data)
    while rest:
        rest = rest[file.write(rest) :]


class Prefetcher:
    """Reads a sound from a byte far ahead of its job: renders from there until the job has come
    so far, then goes on with the job. The bytes are the same (see `Rendering.blocks`).

    For one reader, who reads on from `at`.

    Parameters
    ----------
    job : held by whoever makes this; left with it.
    give_way : called before a block is made; waits while other sounds are needed more.
    caught_up : called once, when nothing is rendered here any more.
    """

    def __init__(
        self,
        job: RenderJob,
        at: int,
        give_way: Callable[[Prefetcher], None],
        caught_up: Callable[[Prefetcher], None],
    ) -> None:
        self.size = job.size
        self._job, self._give_way, self._caught_up = job, give_way, caught_up
        frame, self._skip = divmod(at - WAV_HEADER_BYTES, FRAME_BYTES)
        self._blocks: Generator[Block] | None = job.rendering.blocks(frame)
        self._ready = b""
        self._begun = self._asked = False

    @property
    def stopped(self) -> bool:
        """Whether the sound was given up."""
        return self._job.stopped

    @property
    def need(self) -> int:
        """How much it is needed: 2 while its first bytes are waited for, 1 while more are."""
        return 0 if not self._asked else 1 if self._begun else 2

    def wait_for(self, _: int) -> None:
        """Wait until the first bytes are there. Raises TrainerError if they never come."""
        if not self._begun:
            self._make()

    def read(self, at: int, most: int) -> bytes:
        """One to `most` bytes from `at`, where the last read ended. Raises as `wait_for`."""
        if not self._ready:
            if self._blocks is None or self._job.written > at:
                self._stop()
                return self._job.read(at, most)
            self._make()
        data, self._ready = self._ready[:most], self._ready[most:]
        return data

    def leave(self) -> None:
        """Read no more."""
        self._stop()
        self._job.leave()

    def _make(self) -> None:
        """Make the next block."""
        assert self._blocks is not None
        self._asked = True
        try:
            self._give_way(self)
            if self.stopped:
                raise TrainerError("the sound was given up")
            self._ready = next(self._blocks).astype("<i2", copy=False).tobytes()[self._skip :]
            self._skip, self._begun = 0, True
        except Exception as error:
            self._stop()
            if isinstance(error, TrainerError):
                raise
            raise TrainerError(f"the sound could not be made: {error}") from error
        finally:
            self._asked = False

    def _stop(self) -> None:
        blocks, self._blocks = self._blocks, None
        if blocks is not None:
            blocks.close()
            self._caught_up(self)
