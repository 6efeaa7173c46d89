"""Finished sounds on disk, the least recently used deleted first, and how they are read."""

from __future__ import annotations

import errno
import fcntl
import logging
import os
import re
import threading
import time
from collections import Counter, OrderedDict
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO, Protocol
from weakref import WeakSet

from trainer.errors import TrainerError
from trainer.store import make_private_folder, private_opener

__all__ = ["AudioCache", "AudioSource", "CachedFile", "NotRegistered", "UnfinishedFile"]

_FINISHED_NAME = re.compile(r"[0-9a-f]{40}\.(wav|flac)")
_UNFINISHED_SUFFIX, _WANTED_SUFFIX = ".part", ".wanted"
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
    """A file of the cache while it is written, by this program or by another one over the same
    folder. A lock on it says that somebody writes it; it ends with the program that holds it.

    Raises OSError if it cannot be opened.

    Attributes
    ----------
    is_ours : whether whoever made this object writes the file. It is empty then.
    """

    def __init__(self, path: Path) -> None:
        self.path, self.is_finished = path, False
        self._wanted = path.with_suffix(_WANTED_SUFFIX)
        self._closing = threading.Lock()
        while True:
            self.file: BinaryIO = open(path, "r+b", buffering=0, opener=_making_opener)  # noqa: SIM115 - closed by `discard`
            self.is_ours = _try_lock(self.file)
            if not self.is_ours:
                return
            # It may have been finished or given up between the two.
            if _is_at(self.file, path):
                if not os.fstat(self.file.fileno()).st_size:
                    return
                # A program that was killed left it.
                path.unlink()
            self.file.close()

    def follow(self, finished: Path) -> None:
        """Read a file that another program has finished in place of this one. Raises OSError."""
        file = finished.open("rb", buffering=0)
        self.discard()
        self.file, self.is_ours = file, False

    def is_given_up(self) -> bool:
        """Of a file that another writes: whether nobody does any more, finished or not."""
        if not _try_lock(self.file):
            return False
        fcntl.flock(self.file, fcntl.LOCK_UN)
        return True

    def discard(self) -> None:
        """Close the file, and delete it if it is ours and was not finished."""
        self.delete()
        if self.is_ours:
            self._wanted.unlink(missing_ok=True)
        with self._closing:
            self.file.close()

    def delete(self) -> None:
        """Delete it if it is ours and was not finished; it stays open."""
        if self.is_ours and not self.is_finished and self.has_its_name():
            self.path.unlink(missing_ok=True)

    def has_its_name(self) -> bool:
        """Whether the file of that name is still this one: somebody may have removed it, and
        another program may have begun one of the same name."""
        with self._closing:
            return not self.file.closed and _is_at(self.file, self.path)

    def want(self) -> None:
        """Tell the program that writes the file that somebody waits for more of it."""
        self._wanted.touch(mode=0o600)

    def was_wanted(self, within_s: float) -> bool:
        """Whether another program told so in the last seconds."""
        try:
            at_s = self._wanted.stat().st_mtime
        except FileNotFoundError:
            return False
        # The clock may have been set back meanwhile.
        return abs(time.time() - at_s) < within_s


class AudioCache:
    """A folder of finished files; safe to use from several threads, and by several programs.

    A file's name says what is in it, so that what another program finished, or an earlier run, is
    used again. Of programs that want to write the same file one does (`claim`). The folder has mode
    0700 and its files 0600.

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
        for path in self.folder.iterdir():
            is_ours = path.suffix in (_UNFINISHED_SUFFIX, _WANTED_SUFFIX)
            if is_ours or _OLD_UNFINISHED_NAME.fullmatch(path.name):
                # Another server over the same folder may delete files meanwhile.
                with suppress(FileNotFoundError):
                    _delete_abandoned(path)
        self._look()
        self.make_room(0)

    def _look(self) -> None:
        """Note every finished file, those that other programs finished too."""
        found = []
        for path in self.folder.iterdir():
            if _FINISHED_NAME.fullmatch(path.name):
                with suppress(FileNotFoundError):
                    status = path.stat()
                    found.append((status.st_mtime_ns, path.name, status.st_size))
        self._sizes = OrderedDict((name, size) for _, name, size in sorted(found))

    @property
    def bytes_kept(self) -> int:
        """Bytes of all finished files."""
        return sum(self._sizes.values())

    def claim(self, name: str, size: int | None = None) -> UnfinishedFile:
        """A new file to write until `finish` gives it its name. If another program, or another
        thread of this one, was first, the file that it is writing, or has finished meanwhile.

        A finished file of another size than `size` is written again. Raises OSError.
        """
        make_private_folder(self.folder)
        made = UnfinishedFile(self.folder / f"{name}{_UNFINISHED_SUFFIX}")
        found = self.size(name) if made.is_ours else None
        if found is not None and size in (None, found):
            # It may be deleted before it is opened.
            with suppress(FileNotFoundError):
                made.follow(self.folder / name)
        with self._lock:
            self._unfinished.add(made)
        return made

    def delete_unfinished(self) -> None:
        """Delete every file that was created here and is not finished, also one that is still
        written to."""
        with self._lock:
            unfinished = list(self._unfinished)
        for each in unfinished:
            each.delete()

    def finish(self, unfinished: UnfinishedFile, name: str) -> None:
        """Give a whole file its name, in one step; it stays open. Raises OSError."""
        with self._lock:
            if not unfinished.has_its_name():
                raise FileNotFoundError(
                    errno.ENOENT, "the unfinished file was removed", str(unfinished.path)
                )
            unfinished.path.replace(self.folder / name)
            unfinished.is_finished = True
            _use(self.folder / name)
            self._look()
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
            path = self.folder / name
            try:
                # The order of use outlives this run, and other programs see it.
                _use(path)
                self._sizes[name] = path.stat().st_size
            except OSError as error:
                _LOG.debug("there is no sound %s: %s", name, error)
                self._sizes.pop(name, None)
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


def _making_opener(path: str, flags: int) -> int:
    """Opens a file that only its owner reads, and makes it if there is none."""
    return private_opener(path, flags | os.O_CREAT)


def _use(path: Path) -> None:
    """Note when a file is used, more finely than the file system's own clock. Raises OSError."""
    now_ns = time.time_ns()
    os.utime(path, ns=(now_ns, now_ns))


def _try_lock(file: BinaryIO) -> bool:
    """Lock a file until it is closed; False if somebody else has locked it. Raises OSError."""
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def _is_at(file: BinaryIO, path: Path) -> bool:
    """Whether an open file still has that name."""
    try:
        return os.path.samestat(os.fstat(file.fileno()), path.stat())
    except FileNotFoundError:
        return False


def _delete_abandoned(path: Path) -> None:
    """Delete an unfinished file unless a server that runs is writing it."""
    with path.open("rb") as file:
        if not _try_lock(file):
            _LOG.debug("%s is being written", path)
        elif _is_at(file, path):
            path.unlink(missing_ok=True)
