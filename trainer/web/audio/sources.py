"""Where the bytes of a sound come from, and those of a finished file."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Protocol

from trainer.errors import TrainerError
from trainer.web.audio.cache import Cache

__all__ = ["Kept", "Source"]


class Source(Protocol):
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


class Kept:
    """A finished file of the cache. Raises OSError if it cannot be opened."""

    def __init__(self, cache: Cache, path: Path) -> None:
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
