"""Sounds while they are rendered: the job that makes one from its start, the readers it has, and
the prefetcher that makes a part far ahead of it."""

from __future__ import annotations

import logging
import os
import threading
import time
from collections.abc import Callable, Generator

from trainer.errors import TrainerError
from trainer.sound import WAV_HEADER_BYTES, Block, Rendering
from trainer.web.audio.cache import AudioCache, UnfinishedFile
from trainer.web.audio.turns import Need, RenderTurns

__all__ = [
    "FOLLOW_EVERY_S",
    "FRAME_BYTES",
    "JobReader",
    "Prefetcher",
    "RenderJob",
    "pcm_bytes",
    "wav_size",
]

FRAME_BYTES = 4
# A reader still counts as waiting for so long after a read, so that a sound that somebody hears
# does not lose its turn between two reads.
EAGER_S = 0.5
# A reader that has its first bytes lets more of them gather for so long: sending every block on its
# own would keep the event loop, and with it every page, busy.
GATHER_S = 0.05
# How often a job that follows another program looks for what that program has written, in seconds.
FOLLOW_EVERY_S = 0.02
# What a sound may take of memory when the disk does not hold it: 12 minutes.
MAX_MEMORY_BYTES = 128 * 2**20
_LOG = logging.getLogger(__name__)


def wav_size(rendering: Rendering) -> int:
    """Bytes of a rendering as a WAV file."""
    return WAV_HEADER_BYTES + rendering.frames * FRAME_BYTES


def pcm_bytes(block: Block) -> bytes:
    """A block as the samples of a WAV file: 16-bit, little-endian, the two channels in turn."""
    return block.astype("<i2", copy=False).tobytes()


class RenderJob:
    """A sound while it is rendered: one thread adds to it, any number read what is there so far.

    It is written into a file of the cache. If that cannot be written (a full disk), it goes on in
    memory, up to `MAX_MEMORY_BYTES`. If another program over the same cache is writing the file
    already, nothing is rendered here: the thread follows what comes (`catch_up`), and only if the
    other gives it up, `claim`s it. A program that follows tells the one that writes when somebody
    waits.

    Parameters
    ----------
    rendering : what is rendered.
    on_reader_closed : called with this job when one of its readers closes.

    Attributes
    ----------
    readers : number of readers; guarded by the pool's lock.
    stopped : whether it was given up.
    finished : whether all of it was added.
    """

    def __init__(
        self,
        cache: AudioCache,
        name: str,
        rendering: Rendering,
        on_reader_closed: Callable[[RenderJob], None],
    ) -> None:
        self.name, self.rendering, self.size = name, rendering, wav_size(rendering)
        self.on_reader_closed = on_reader_closed
        self.readers = 0
        self.stopped = self.finished = False
        self._cache = cache
        self._news = threading.Condition()
        self._written = self._waiting = 0
        self._waited_at = float("-inf")
        self._failure: str | None = None
        self._memory = bytearray()
        cache.pin(name)
        self._file: UnfinishedFile | None = None
        self._could_not_ask = False
        self.claim()

    def claim(self) -> None:
        """Write the file from its start, or follow whoever writes it."""
        with self._news:
            if self._file is not None:
                self._file.discard()
            self._written = 0
            try:
                self._file = self._cache.claim(self.name, self.size)
            except OSError as error:
                self._file = None
                self._warn(error)

    @property
    def is_followed(self) -> bool:
        """Whether another program writes the file."""
        return self._file is not None and not self._file.is_ours

    @property
    def is_wanted_elsewhere(self) -> bool:
        """Whether somebody waits for it in a program that follows."""
        file = self._file
        return file is not None and file.is_ours and file.was_wanted(EAGER_S)

    @property
    def need(self) -> Need:
        """How much it is needed now, here or by a program that follows."""
        if not (self._is_waited_for() or self.is_wanted_elsewhere):
            return Need.NONE
        return Need.MORE if self._written > WAV_HEADER_BYTES else Need.FIRST

    @property
    def written(self) -> int:
        """Bytes rendered so far."""
        return self._written

    @property
    def missing_s(self) -> float:
        """Seconds of the sound that are not rendered yet."""
        return (self.size - self._written) / FRAME_BYTES / self.rendering.sample_rate

    @property
    def in_memory(self) -> bool:
        """Whether the disk does not hold it."""
        return self._file is None

    def add(self, data: bytes) -> None:
        """Add what was rendered. Raises TrainerError if neither disk nor memory can hold it."""
        with self._news:
            if self._file is not None:
                try:
                    _write(self._file, data)
                except OSError as error:
                    self._move_to_memory(self._file, error)
            if self._file is None:
                if len(self._memory) + len(data) > MAX_MEMORY_BYTES:
                    raise TrainerError(
                        f"{self._cache.folder} cannot be written, and the sound is too long to be "
                        f"held in memory ({MAX_MEMORY_BYTES // 2**20} MiB)"
                    )
                self._memory += data
            self._written += len(data)
            self._news.notify_all()

    def catch_up(self) -> bool:
        """Take note of what another program has written; False once it writes no more, finished or
        not."""
        with self._news:
            assert self._file is not None
            # Asked first: what was written before the end counts.
            goes_on = not self._file.is_given_up()
            if self._is_waited_for():
                self._ask_for_more(self._file)
            self._written = os.fstat(self._file.file.fileno()).st_size
            self.finished = self._written == self.size
            self._news.notify_all()
            return goes_on and not self.finished

    def finish(self) -> None:
        """Keep the file: everything was added."""
        with self._news:
            if self._file is not None:
                try:
                    os.fsync(self._file.file.fileno())
                    self._cache.finish(self._file, self.name)
                except OSError as error:
                    self._move_to_memory(self._file, error)
            self.finished = True
            self._news.notify_all()

    def fail(self, why: str) -> None:
        """Tell all readers that nothing more will come; the first reason stays."""
        with self._news:
            self._failure = self._failure or why
            self._news.notify_all()

    def discard(self) -> None:
        """Free the bytes, when nobody reads and nobody adds any more."""
        with self._news:
            file, self._file = self._file, None
            self._memory = bytearray()
        if file is not None:
            file.discard()
        self._cache.unpin(self.name)

    def wait_for(self, at: int, reader: JobReader) -> None:
        """Wait until the byte at `at` is there. Raises TrainerError if it never comes or the
        reader closes."""
        with self._news:
            self._wait_for(at, reader)

    def read(self, at: int, most: int, reader: JobReader) -> bytes:
        """One to `most` bytes from `at`, as soon as there are any. Raises as `wait_for`."""
        with self._news:
            self._wait_for(at, reader)
            most = min(most, self._written - at)
            if self._file is not None:
                return os.pread(self._file.file.fileno(), most, at)
            return bytes(memoryview(self._memory)[at : at + most])

    def wake_readers(self) -> None:
        """Let waiting readers see that they were closed."""
        with self._news:
            self._news.notify_all()

    def _ask_for_more(self, followed: UnfinishedFile) -> None:
        """Tell the program that is followed that somebody waits. Without that the sound comes
        later, but it comes."""
        try:
            followed.want()
        except OSError as error:
            # It is tried again at every look; one line in the log is enough.
            level = logging.DEBUG if self._could_not_ask else logging.WARNING
            _LOG.log(
                level,
                "cannot tell another program that somebody waits for a sound: %s: %s",
                self._cache.folder,
                error.strerror or error,
            )
            self._could_not_ask = True

    def _is_waited_for(self) -> bool:
        return self._waiting > 0 or time.monotonic() - self._waited_at < EAGER_S

    def _wait_for(self, at: int, reader: JobReader) -> None:
        if self._written <= at and not reader.closed:
            self._waiting += 1
            try:
                while self._written <= at and self._failure is None and not reader.closed:
                    self._news.wait()
            finally:
                self._waiting -= 1
                self._waited_at = time.monotonic()
        if reader.closed:
            raise TrainerError("this sound is no longer read")
        if self._written <= at:
            raise TrainerError(self._failure or "nothing was rendered")

    def _move_to_memory(self, unfinished: UnfinishedFile, error: OSError) -> None:
        self._warn(error)
        self._memory += os.pread(unfinished.file.fileno(), self._written, 0)
        self._file = None
        unfinished.discard()

    def _warn(self, error: OSError) -> None:
        _LOG.warning(
            "a sound goes on in memory and is not kept: %s: %s",
            self._cache.folder,
            error.strerror or error,
        )


class JobReader:
    """One reader of a job, as a source."""

    def __init__(self, job: RenderJob) -> None:
        self.job, self.size = job, job.size
        self._closed = threading.Event()
        self._once = threading.Lock()
        self._has_read = False

    @property
    def closed(self) -> bool:
        """Whether it reads no more."""
        return self._closed.is_set()

    def wait_for(self, at: int) -> None:
        """Wait until the byte at `at` is there. Raises TrainerError if it never comes."""
        self.job.wait_for(at, self)

    def read(self, at: int, most: int) -> bytes:
        """One to `most` bytes from `at`: the first as soon as there are any, later ones gathered
        for up to `GATHER_S`. Raises as `wait_for`."""
        job = self.job
        enough = min(at + most, self.size)
        if self._has_read and job.written < enough and not (job.finished or job.stopped):
            self._closed.wait(GATHER_S)
        data = job.read(at, most, self)
        self._has_read = True
        return data

    def close(self) -> None:
        """Read no more; a read that waits in another thread ends."""
        with self._once:
            if self._closed.is_set():
                return
            self._closed.set()
        self.job.wake_readers()
        self.job.on_reader_closed(self.job)


class Prefetcher:
    """Reads a sound from a byte far ahead of its job: renders from there until the job has come so
    far, then goes on with the job. The bytes are the same (see `Rendering.blocks`).

    For one reader, who reads on from `at`.

    Parameters
    ----------
    reader : of the job; closed with this.
    turns : asked before each block.
    on_caught_up : called once, when nothing is rendered here any more.
    """

    def __init__(
        self,
        reader: JobReader,
        at: int,
        turns: RenderTurns,
        on_caught_up: Callable[[Prefetcher], None],
    ) -> None:
        self.size = reader.size
        self._reader, self._turns, self._on_caught_up = reader, turns, on_caught_up
        frame, self._skip = divmod(at - WAV_HEADER_BYTES, FRAME_BYTES)
        self._blocks: Generator[Block] | None = reader.job.rendering.blocks(frame)
        self._rendering = threading.Lock()
        self._ready = b""
        self._begun = self._asked = False

    @property
    def stopped(self) -> bool:
        """Whether the sound was cancelled or is no longer read."""
        return self._reader.closed or self._reader.job.stopped

    @property
    def need(self) -> Need:
        """How much it is needed now."""
        return Need.NONE if not self._asked else Need.MORE if self._begun else Need.FIRST

    def wait_for(self, _: int) -> None:
        """Wait until the first bytes are there. Raises TrainerError if they never come."""
        if not self._begun:
            self._render()

    def read(self, at: int, most: int) -> bytes:
        """One to `most` bytes from `at`, where the last read ended. Raises as `wait_for`."""
        if not self._ready:
            if self._blocks is None or self._reader.job.written > at:
                self._stop()
                return self._reader.read(at, most)
            self._render()
        data, self._ready = self._ready[:most], self._ready[most:]
        return data

    def close(self) -> None:
        """Read no more."""
        self._reader.close()
        self._turns.cancel(self)
        # A block that another thread renders just now is its last; it then stops by itself.
        if self._rendering.acquire(blocking=False):
            self._rendering.release()
            self._stop()

    def _render(self) -> None:
        """Render the next block."""
        try:
            with self._rendering:
                self._ready = self._next_block()[self._skip :]
            self._skip, self._begun = 0, True
        except Exception as error:
            self._stop()
            if isinstance(error, TrainerError):
                raise
            raise TrainerError(f"the sound could not be made: {error}") from error
        finally:
            self._asked = False
            if self.stopped:
                self._stop()

    def _next_block(self) -> bytes:
        self._asked = True
        if self._blocks is None or not self._turns.acquire(self):
            raise TrainerError("the sound was cancelled")
        try:
            return pcm_bytes(next(self._blocks))
        finally:
            self._turns.release(self)

    def _stop(self) -> None:
        with self._rendering:
            blocks, self._blocks = self._blocks, None
            if blocks is None:
                return
            blocks.close()
        self._on_caught_up(self)


def _write(unfinished: UnfinishedFile, data: bytes) -> None:
    """Write all of it: an unbuffered file may accept only a part."""
    rest = memoryview(data)
    while rest:
        rest = rest[unfinished.file.write(rest) :]
