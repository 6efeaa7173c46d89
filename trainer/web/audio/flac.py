"""Sounds as FLAC: each encoded from its WAV once for all who wait, and stopped when nobody does."""

from __future__ import annotations

import logging
import threading
import time
from collections.abc import Callable, Generator
from contextlib import closing

from trainer.errors import TrainerError
from trainer.sound import WAV_HEADER_BYTES, encode
from trainer.web.audio.cache import AudioCache, AudioSource, CachedFile, UnfinishedFile
from trainer.web.audio.jobs import FOLLOW_EVERY_S, FRAME_BYTES
from trainer.web.audio.turns import Need, RenderTurns

__all__ = ["FlacEncoder", "FlacRequest"]

_READ_BYTES = 2**17
_GIVEN_UP = "the sound was cancelled"
_LOG = logging.getLogger(__name__)


class FlacEncoder:
    """Encodes sounds as FLAC into the cache, several at once; safe to use from several threads.

    Parameters
    ----------
    turns : asked before each block is encoded.
    sample_rate : of all sounds, Hz.
    """

    def __init__(self, cache: AudioCache, turns: RenderTurns, sample_rate: int) -> None:
        self._cache, self._turns, self._sample_rate = cache, turns, sample_rate
        self._lock = threading.Lock()
        self._encodings: dict[str, _Encoding] = {}
        self._threads: set[threading.Thread] = set()
        self._closing = False

    def request(self, name: str, open_wav: Callable[[], AudioSource]) -> FlacRequest:
        """Ask for a sound as FLAC; its encoding begins unless it is kept or being encoded.

        Parameters
        ----------
        name : of its file.
        open_wav : opens the sound as WAV, which is rendered if need be.

        Raises what `open_wav` raises; TrainerError after `close`.
        """
        if self._cache.size(name) is not None:
            return FlacRequest(self._cache, name, None)
        with self._lock:
            if (request := self._request(name)) is not None:
                return request
        wav = open_wav()
        with self._lock:
            request = self._request(name)
            if request is None and not self._closing:
                encoding = _Encoding(wav, self._turns)
                self._encodings[name] = encoding
                request = FlacRequest(self._cache, name, encoding)
                thread = threading.Thread(
                    target=self._encode, args=(name, encoding), name=f"flac {name[:8]}", daemon=True
                )
                self._threads.add(thread)
                thread.start()
                return request
        wav.close()
        if request is None:
            raise TrainerError(_GIVEN_UP)
        return request

    def stop(self) -> None:
        """Stop encoding and tell all who wait; returns at once."""
        with self._lock:
            self._closing = True
            encodings = list(self._encodings.values())
        for encoding in encodings:
            encoding.stop()

    def join(self, until: float) -> None:
        """After `stop`, wait until what is unfinished is deleted, to a `time.monotonic` at most."""
        with self._lock:
            threads = list(self._threads)
        for thread in threads:
            thread.join(max(0.0, until - time.monotonic()))

    def _request(self, name: str) -> FlacRequest | None:
        encoding = self._encodings.get(name)
        if encoding is None or encoding.stopped:
            return None
        return FlacRequest(self._cache, name, encoding)

    def _encode(self, name: str, encoding: _Encoding) -> None:
        """Encode a sound into the cache: what its thread does."""
        failure = None
        try:
            self._write(name, encoding)
        except TrainerError as error:
            failure = str(error)
        except OSError as error:
            why = error.strerror or error
            failure = f"the sound cannot be kept as FLAC: {self._cache.folder}: {why}"
        except Exception as error:  # noqa: BLE001 - told to all who wait
            _LOG.exception("a sound could not be encoded")
            failure = f"the sound could not be encoded: {error}"
        finally:
            encoding.wav.close()
            with self._lock:
                if self._encodings.get(name) is encoding:
                    del self._encodings[name]
                self._threads.discard(threading.current_thread())
        encoding.end(failure)

    def _write(self, name: str, encoding: _Encoding) -> None:
        """Encode a sound, unless another program does."""
        while (unfinished := self._cache.claim(name)).is_ours is False:
            try:
                if self._follow(name, unfinished, encoding):
                    return
            finally:
                unfinished.discard()
        try:
            with closing(encoding.blocks()) as blocks:
                encode(blocks, self._sample_rate, unfinished.path, "FLAC")
            self._cache.finish(unfinished, name)
        finally:
            unfinished.discard()

    def _follow(self, name: str, unfinished: UnfinishedFile, encoding: _Encoding) -> bool:
        """Wait until another program has ended its encoding; whether the file is there. Raises
        TrainerError if it is given up here."""
        while not unfinished.is_given_up():
            if encoding.stopped:
                raise TrainerError(_GIVEN_UP)
            time.sleep(FOLLOW_EVERY_S)
        return self._cache.size(name) is not None


class FlacRequest:
    """A caller who waits for a sound as FLAC and calls `close` at the end."""

    def __init__(self, cache: AudioCache, name: str, encoding: _Encoding | None) -> None:
        self._cache, self._name, self._encoding = cache, name, encoding
        self._once = threading.Lock()
        self.closed = False
        # Not deleted before it is opened, however small the cache.
        cache.pin(name)
        if encoding is not None:
            encoding.add(self)

    def wait(self) -> None:
        """Wait for the file. Raises TrainerError if it cannot be made, or `close` is called
        meanwhile."""
        if self._encoding is not None:
            self._encoding.wait(self)

    def open(self) -> CachedFile:
        """Open the file, after `wait`. Raises TrainerError if another program has deleted it."""
        found = self._cache.open(self._name)
        if found is None:
            raise TrainerError("the kept sound was deleted by another program; ask again")
        return found

    def close(self) -> None:
        """Wait no more; a wait in another thread ends. A second call does nothing."""
        with self._once:
            if self.closed:
                return
            self.closed = True
        if self._encoding is not None:
            self._encoding.remove(self)
        self._cache.unpin(self._name)


class _Encoding:
    """A sound while it is encoded."""

    def __init__(self, wav: AudioSource, turns: RenderTurns) -> None:
        self.wav, self._turns = wav, turns
        self.stopped = False
        self._news = threading.Condition()
        self._requests: set[FlacRequest] = set()
        self._ended = False
        self._failure: str | None = None

    @property
    def need(self) -> Need:
        """How much it is needed now."""
        return Need.MORE

    def add(self, request: FlacRequest) -> None:
        """Count one who waits."""
        with self._news:
            self._requests.add(request)

    def remove(self, request: FlacRequest) -> None:
        """Stop if nobody waits any more."""
        with self._news:
            self._requests.discard(request)
            is_abandoned = not self._requests and not self._ended
            self._news.notify_all()
        if is_abandoned:
            self.stop()

    def wait(self, request: FlacRequest) -> None:
        """Wait until the file is kept. Raises TrainerError if it will not be."""
        with self._news:
            self._news.wait_for(lambda: self._ended or request.closed)
            if self._failure is not None or not self._ended:
                raise TrainerError(self._failure or _GIVEN_UP)

    def stop(self) -> None:
        """Give it up."""
        self.stopped = True
        self.wav.close()
        self._turns.cancel(self)

    def end(self, failure: str | None) -> None:
        """Tell all who wait that it has ended."""
        with self._news:
            self._ended, self._failure = True, failure
            self._news.notify_all()

    def blocks(self) -> Generator[memoryview]:
        """The blocks of the WAV; each is encoded within a turn."""
        at = WAV_HEADER_BYTES
        while at < self.wav.size:
            data = self.wav.read(at, _READ_BYTES)
            at += len(data)
            if not self._turns.acquire(self):
                raise TrainerError(_GIVEN_UP)
            try:
                yield memoryview(data).cast("h", [len(data) // FRAME_BYTES, 2])
            finally:
                self._turns.release(self)
