"""Finished sounds on disk, the least recently used deleted first, and how they are read."""

from __future__ import annotations

import fcntl
import logging
import os
import re
import secrets
import threading
from collections import Counter, OrderedDict
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO, Protocol
from weakref import WeakSet

from trainer.errors import TrainerError
from trainer.store import make_private_folder, private_opener

__all__ = ["AudioCache", "AudioSource", "CachedFile", "NotRegistered", "UnfinishedFile"]

_FINISHED_NAME = re.compile(r"[0-9a-f]{40}\.(wav|flac)")
_UNFINISHED_SUFFIX = ".part"
# An unfinished FLAC file had such a name before FLAC was written as ".part", too.
_OLD_UNFINISHED_NAME = re.compile(r"\.[0-9a-f]{40}-\w+\.(wav|flac)")
_LOG = logging.getLogger(__name__)


class NotRegistered(LookupError):
    """No sound of this key: never registered, or so long ago that it was forgotten."""


class AudioSource(Protocol):
    """The bytes of a sound for one reader, who calls `close` when it has read what it wanted.

    `close` may be called from another thread; a read that waits then ends with TrainerError.
    """

    @property
    def size(self) -> int:
        """Bytes of the whole."""

    def wait_for(self, at: int, /) -> None:
        """Wait until the byte at `at` is there. Raises TrainerError if it never comes."""

    def read(self, at: int, most: int, /) -> bytes:
        """One to `most` bytes from `at`. Raises as `wait_for`."""

    def close(self) -> None:
        """Read no more. A second call does nothing."""


class UnfinishedFile:
    """A file of the cache while it is written, locked so that another server leaves it alone.

    Raises OSError if it cannot be created.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.file: BinaryIO = open(path, "x+b", buffering=0, opener=private_opener)  # noqa: SIM115 - closed by `discard`
        _lock(self.file)

    def discard(self) -> None:
        """Close the file, and delete it unless it was finished."""
        self.file.close()
        self.path.unlink(missing_ok=True)


class AudioCache:
    """A folder of finished files named by key; safe to use from several threads.

    What was finished in an earlier run is used again: the names are good for as long as the secret
    in the folder, and an open page goes on playing after the server was started again. The folder
    has mode 0700 and its files 0600.

    Parameters
    ----------
    folder : need not exist.
    limit_bytes : for all files together. A file being read is never deleted, so what is in use can
        pass the limit.
    """

    def __init__(self, folder: Path, limit_bytes: int) -> None:
        self.folder, self.limit_bytes = folder, limit_bytes
        self._lock = threading.Lock()
        self._unfinished: WeakSet[UnfinishedFile] = WeakSet()
        self._pinned: Counter[str] = Counter()
        # Size by name, the least recently used first.
        self._sizes: OrderedDict[str, int] = OrderedDict()
        try:
            make_private_folder(folder)
            self._find_files()
        except OSError as error:
            _LOG.warning("sounds will not be kept: %s", error)

    def _find_files(self) -> None:
        """Find an earlier run's files; delete those that it left unfinished."""
        found = []
        for path in self.folder.iterdir():
            # Another server over the same folder may delete files meanwhile.
            with suppress(FileNotFoundError):
                if _FINISHED_NAME.fullmatch(path.name):
                    status = path.stat()
                    found.append((status.st_mtime_ns, path.name, status.st_size))
                elif path.suffix == _UNFINISHED_SUFFIX or _OLD_UNFINISHED_NAME.fullmatch(path.name):
                    _delete_abandoned(path)
        self._sizes.update((name, size) for _, name, size in sorted(found))
        self.make_room(0)

    @property
    def bytes_kept(self) -> int:
        """Bytes of all finished files."""
        return sum(self._sizes.values())

    def create(self, name: str) -> UnfinishedFile:
        """A new file to write until `finish` gives it its name. Raises OSError."""
        make_private_folder(self.folder)
        made = UnfinishedFile(self.folder / f"{name}.{secrets.token_hex(4)}{_UNFINISHED_SUFFIX}")
        with self._lock:
            self._unfinished.add(made)
        return made

    def delete_unfinished(self) -> None:
        """Delete every file that was created here and is not finished, also one that is still
        written to."""
        with self._lock:
            unfinished = list(self._unfinished)
        for each in unfinished:
            each.path.unlink(missing_ok=True)

    def finish(self, unfinished: UnfinishedFile, name: str) -> None:
        """Give a whole file its name, in one step; it stays open. Raises OSError."""
        size = unfinished.path.stat().st_size
        with self._lock:
            unfinished.path.replace(self.folder / name)
            self._sizes[name] = size
            self._sizes.move_to_end(name)
        self.make_room(0)

    def pin(self, name: str) -> None:
        """Keep a file until `unpin`."""
        with self._lock:
            self._pinned[name] += 1

    def unpin(self, name: str) -> None:
        """Undo one `pin`."""
        with self._lock:
            self._pinned[name] -= 1
            if not self._pinned[name]:
                del self._pinned[name]
        self.make_room(0)

    def size(self, name: str) -> int | None:
        """Bytes of a finished file, which becomes the most recently used; None without one."""
        with self._lock:
            if name not in self._sizes:
                return None
            try:
                # The order of use outlives this run.
                os.utime(self.folder / name)
            except OSError as error:
                _LOG.debug("the sound %s was deleted by somebody else: %s", name, error)
                del self._sizes[name]
                return None
            self._sizes.move_to_end(name)
            return self._sizes[name]

    def open(self, name: str) -> CachedFile | None:
        """A finished file to read; None if there is none."""
        self.pin(name)
        try:
            if self.size(name) is not None:
                # Another program may delete it before it is opened; it is then made again.
                with suppress(FileNotFoundError):
                    return CachedFile(self, name)
            return None
        finally:
            self.unpin(name)

    def make_room(self, size: int) -> None:
        """Delete what was not used longest until `size` bytes more are within the limit.

        Nothing is deleted for a file that passes the limit by itself: it could not be kept anyway.
        """
        if size > self.limit_bytes:
            return
        with self._lock:
            over = self.bytes_kept + size - self.limit_bytes
            for name in [name for name in self._sizes if name not in self._pinned]:
                if over <= 0:
                    return
                over -= self._sizes[name]
                try:
                    (self.folder / name).unlink(missing_ok=True)
                except OSError as error:
                    _LOG.warning("cannot delete the sound %s: %s", name, error)
                else:
                    del self._sizes[name]


class CachedFile:
    """A finished file of the cache as a source. Raises OSError if it cannot be opened."""

    def __init__(self, cache: AudioCache, name: str) -> None:
        self._cache, self._name = cache, name
        self._lock = threading.Lock()
        self._file: BinaryIO | None = (cache.folder / name).open("rb", buffering=0)
        self.size = os.fstat(self._file.fileno()).st_size
        cache.pin(name)

    def wait_for(self, at: int) -> None:
        """Nothing to wait for."""

    def read(self, at: int, most: int) -> bytes:
        """Bytes from `at`."""
        with self._lock:
            if self._file is None:
                raise TrainerError("this sound is no longer read")
            found = os.pread(self._file.fileno(), most, at)
        if not found:
            raise TrainerError(f"the kept sound {self._name} was cut short while it was read")
        return found

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            file, self._file = self._file, None
        if file is not None:
            file.close()
            self._cache.unpin(self._name)


def _lock(file: BinaryIO) -> None:
    """Lock a file until it is closed. Raises OSError if somebody else has locked it."""
    fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


def _delete_abandoned(path: Path) -> None:
    """Delete an unfinished file unless a server that runs is writing it."""
    with path.open("rb") as file:
        try:
            _lock(file)
        except BlockingIOError:
            _LOG.debug("%s is being written", path)
        else:
            path.unlink(missing_ok=True)
