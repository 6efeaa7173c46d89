"""The store's folder and files: where they are, made whole or not at all, for their owner alone."""

from __future__ import annotations

import logging
import os
import stat
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from glob import escape
from pathlib import Path

__all__ = [
    "FILE_NAME",
    "default_data_folder",
    "free_name",
    "make_folder",
    "make_private_folder",
    "new_file",
    "private_opener",
    "side_files",
    "take_rights_of_others",
]

FILE_NAME = "trainer.sqlite3"
# The audio cache and the note of a running server stand beside the store.
OWN_NAMES = (Path(FILE_NAME).stem, "sounds", "running.json")
_LOG = logging.getLogger(__name__)
OTHERS = stat.S_IRWXG | stat.S_IRWXO
OWN_FILE = stat.S_IRUSR | stat.S_IWUSR
SUFFIX = ".new"
# A file being made that is older than this was left by a program that was killed.
ABANDONED_AFTER_S = 3600


def default_data_folder() -> Path:
    """The platform's folder for a user's data; it need not exist yet."""
    from platformdirs import user_data_path

    return user_data_path("chart-trainer", appauthor=False)


def make_folder(folder: Path) -> None:
    """Make the folder of a store for its owner alone; folders above it are made as usual.

    One that exists stays as it is: it may be meant for others too.

    Raises OSError if it cannot be made.
    """
    if folder.is_dir():
        return
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.mkdir(mode=stat.S_IRWXU, exist_ok=True)


def make_private_folder(folder: Path) -> None:
    """Make a folder, and those above it that are missing, with mode 0700.

    A folder that exists gets this mode, too; those above it stay as they are. Raises OSError.
    """
    missing = [parent for parent in (folder, *folder.parents) if not parent.exists()]
    for parent in reversed(missing):
        parent.mkdir(stat.S_IRWXU, exist_ok=True)
    if folder.stat().st_mode & OTHERS:
        folder.chmod(stat.S_IRWXU)


def private_opener(path: str, flags: int) -> int:
    """Open a file for the built-in `open`; a new one gets mode 0600."""
    return os.open(path, flags, OWN_FILE)


@contextmanager
def new_file(target: Path) -> Iterator[Path]:
    """An empty file to fill, for its owner alone; it becomes `target` when all went well.

    A file that is at `target` already is never replaced.

    Raises
    ------
    FileExistsError
        At the end, if there is a file at `target`.
    OSError
        If it cannot be made or named.
    """
    _remove_abandoned(target)
    handle, name = tempfile.mkstemp(SUFFIX, f"{target.name}-", target.parent)
    os.close(handle)
    made = Path(name)
    try:
        yield made
        with made.open("rb+") as file:
            os.fsync(file.fileno())
        _give_name(made, target)
    finally:
        for path in (made, *side_files(made)):
            path.unlink(missing_ok=True)


def _give_name(made: Path, target: Path) -> None:
    try:
        os.link(made, target)
    except FileExistsError:
        raise
    except OSError:
        # A file system without hard links.
        if target.exists():
            raise FileExistsError(target) from None
        made.rename(target)


def _remove_abandoned(target: Path) -> None:
    for path in target.parent.glob(f"{escape(target.name)}-*{SUFFIX}*"):
        try:
            if time.time() - path.stat().st_mtime > ABANDONED_AFTER_S:
                path.unlink()
        except FileNotFoundError:
            # The program that made it has finished meanwhile.
            continue


def free_name(path: Path, reason: str) -> Path:
    """A name beside `path` that is free, for a copy kept before it changes for that reason."""
    number = 1
    while True:
        name = path.with_name(f"{path.stem}-before-{reason}-{number}{path.suffix}")
        if not name.exists():
            return name
        number += 1


def side_files(path: Path) -> tuple[Path, ...]:
    """The files that SQLite keeps beside a database: log, index of the log, journal."""
    return tuple(path.with_name(path.name + suffix) for suffix in ("-wal", "-shm", "-journal"))


def take_rights_of_others(path: Path) -> None:
    """See that a store's file, what is beside it and its folder are their owner's alone.

    A folder that holds anything but the trainer's files is left as it is. What belongs to another
    user is left as well, with a warning in the log.
    """
    copies = path.parent.glob(f"{escape(path.stem)}-before-*{escape(path.suffix)}")
    for file in (path, *side_files(path), *copies):
        _close_to_others(file)
    if _is_own_folder(path.parent):
        _close_to_others(path.parent)


def _is_own_folder(folder: Path) -> bool:
    if folder == default_data_folder():
        return True
    shared = folder.stat().st_mode & stat.S_ISVTX
    return not shared and all(
        name.startswith(OWN_NAMES)
        for name in os.listdir(folder)  # noqa: PTH208 - names only
    )


def _close_to_others(path: Path) -> None:
    try:
        mode = stat.S_IMODE(path.stat().st_mode)
        if mode & OTHERS:
            path.chmod(mode & ~OTHERS)
    except FileNotFoundError:
        return
    except OSError as error:
        _LOG.warning(
            "%s: other users can read it, and you may not change that (%s). Its owner can: "
            "chmod go-rwx",
            path,
            error.strerror,
        )
