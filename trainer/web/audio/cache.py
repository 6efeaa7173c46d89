"""Finished sounds on disk, the least recently used thrown away first."""

from __future__ import annotations

import logging
import os
import re
import secrets
import threading
import time
from collections import Counter, OrderedDict
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Protocol

from trainer.errors import TrainerError

__all__ = ["AudioCache", "AudioSource", "CachedFile"]

_FINISHED = re.compile(r"[0-9a-f]{40}\.(wav|flac)")
_UNFINISHED = ".part"
# A rendering takes seconds: what is older was left by a program that was stopped.
_STALE_S = 3600.0
_LOG = logging.getLogger(__name__)


class AudioCache:
    """A folder of finished files named by key; safe to use from several threads.

    What was finished in an earlier run is used again: the names are good for as long as the secret
    in the folder, and an open page goes on playing after the server was started anew.

    Parameters
    ----------
    folder : need not exist.
    limit_bytes : for all files together. A file being read is never thrown away, so the limit can
        be passed by what is in use.
    """

    def __init__(self, folder: Path, limit_bytes: int) -> None:
        self.folder, self.limit_bytes = folder, limit_bytes
        self._lock = threading.Lock()
        self._held: Counter[str] = Counter()
        # Size by name, the least recently used first.
        self._sizes: OrderedDict[str, int] = OrderedDict()
        with suppress(OSError):
            folder.mkdir(parents=True, exist_ok=True)
            self._look_over()

    def _look_over(self) -> None:
        """RenderJob stock of an earlier run's files; throw away what it left unfinished."""
        found = []
        for path in self.folder.iterdir():
            said = path.stat()
            if _FINISHED.fullmatch(path.name):
                found.append((said.st_mtime_ns, path.name, said.st_size))
            elif path.suffix == _UNFINISHED and time.time() - said.st_mtime > _STALE_S:
                path.unlink(missing_ok=True)
        self._sizes.update((name, size) for _, name, size in sorted(found))
        self.make_room(0)

    @property
    def bytes_kept(self) -> int:
        """Bytes of all finished files."""
        return sum(self._sizes.values())

    def unfinished(self, name: str) -> Path:
        """Where to write a file until it is finished."""
        return self.folder / f"{name}.{secrets.token_hex(4)}{_UNFINISHED}"

    def finish(self, path: Path, name: str) -> None:
        """Put a whole file in its place, in one step. Raises OSError."""
        size = path.stat().st_size
        with self._lock:
            path.replace(self.folder / name)
            self._sizes[name] = size
            self._sizes.move_to_end(name)
        self.make_room(0)

    @contextmanager
    def held(self, name: str) -> Iterator[None]:
        """Keep a file from being thrown away for a while."""
        self.hold(name)
        try:
            yield
        finally:
            self.release(name)

    def hold(self, name: str) -> None:
        """Keep a file until `release`."""
        with self._lock:
            self._held[name] += 1

    def release(self, name: str) -> None:
        """Undo one `hold`."""
        with self._lock:
            self._held[name] -= 1
            if not self._held[name]:
                del self._held[name]
        self.make_room(0)

    def find(self, name: str) -> Path | None:
        """A finished file, now the most recently used; None if there is none."""
        path = self.folder / name
        with self._lock:
            if name not in self._sizes:
                return None
            try:
                # The order outlives this run.
                os.utime(path)
            except OSError:
                # Somebody else threw it away.
                del self._sizes[name]
                return None
            self._sizes.move_to_end(name)
        return path

    def make_room(self, size: int) -> None:
        """Throw away what was not used longest until `size` bytes more are within the limit."""
        with self._lock:
            over = self.bytes_kept + size - self.limit_bytes
            for name in [name for name in self._sizes if name not in self._held]:
                if over <= 0:
                    return
                over -= self._sizes[name]
                try:
                    (self.folder / name).unlink(missing_ok=True)
                except OSError as error:
                    _LOG.warning("cannot throw away the sound %s: %s", name, error)
                else:
                    del self._sizes[name]


class AudioSource(Protocol):
    """Bytes to read; whoever got one calls `leave` once."""

    @property
    def size(self) -> int:
        """Bytes of the whole."""

    def wait_for(self, at: int, /) -> None:
        """Wait until the byte at `at` is there. Raises TrainerError if it never comes."""

    def read(self, at: int, most: int) -> bytes:
        """One to `most` bytes from `at`, as soon as there are any. Raises as `wait_for`."""

    def leave(self) -> None:
        """Read no more."""


class CachedFile:
    """A finished file of the cache. Raises OSError if it cannot be opened."""

    def __init__(self, cache: AudioCache, path: Path) -> None:
        self._cache, self._name = cache, path.name
        cache.hold(self._name)
        try:
            self._file = path.open("rb", buffering=0)
        except OSError:
            cache.release(self._name)
            raise
        self.size = os.fstat(self._file.fileno()).st_size

    def wait_for(self, at: int) -> None:
        """Nothing to wait for."""

    def read(self, at: int, most: int) -> bytes:
        """Bytes from `at`."""
        found = os.pread(self._file.fileno(), most, at)
        if not found:
            raise TrainerError(f"the kept sound {self._name} was cut short while it was read")
        return found

    def leave(self) -> None:
        """Close the file."""
        self._file.close()
        self._cache.release(self._name)
