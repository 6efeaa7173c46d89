"""All that is true of SQLite only: reading a file before use, pragmas, errors, copies, erasing."""

from __future__ import annotations

import errno
import random
import shutil
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from trainer.errors import FileError, StoreBroken, StoreError, StoreLocked
from trainer.store.files import new_file

__all__ = [
    "FileState",
    "advice_for",
    "check_file",
    "copy_file",
    "erase_deleted",
    "inspect_file",
    "mark_for_erasing",
    "rows_that_go",
    "set_pragmas",
    "translate_error",
    "translated_errors",
]

MAGIC = b"SQLite format 3\x00"
REMEDY = (
    "It was left as it is. Put a backup in its place, or move it away to start with an empty one."
)
_LOSING = frozenset({sqlite3.SQLITE_DELETE, sqlite3.SQLITE_UPDATE, sqlite3.SQLITE_DROP_TABLE})
_NOT_OURS = ("sqlite_", "alembic_")
# The number in the file's header (PRAGMA user_version) that says something was deleted from it.
MUST_ERASE = 1


@dataclass(frozen=True, slots=True)
class FileState:
    """What a file holds.

    `revision` is that of our tables, None if the file is absent or has none yet; `must_erase` says
    that traces of what was deleted may still be in it.
    """

    revision: str | None
    must_erase: bool = False


def inspect_file(path: Path, wait_s: float) -> FileState:
    """Find out what stands at `path` without writing a byte to it.

    Raises
    ------
    StoreBroken
        If it is not a database, not one of ours, or damaged where it was read.
    StoreLocked
        If another program still holds it after `wait_s` seconds.
    StoreError
        If it cannot be read.
    """
    try:
        with path.open("rb") as file:
            start = file.read(len(MAGIC))
    except FileNotFoundError:
        _refuse_orphaned_log(path)
        return FileState(None)
    except OSError as error:
        raise StoreError(f"{path}: {error.strerror}. {advice_for(error)}") from error
    if not start:
        raise StoreBroken(
            f"{path}: found an empty file, expected a database: the trainer never leaves one "
            f"empty, so what was in it is lost. {REMEDY}"
        )
    if start != MAGIC:
        raise StoreBroken(
            f"{path}: found a file that starts with {start!r}, expected a database. {REMEDY}"
        )
    with translated_errors(path, wait_s), _readable(path, wait_s) as connection:
        return _state(connection, path)


def _refuse_orphaned_log(path: Path) -> None:
    """A log without its database means the database was lost, not that it is new."""
    log = path.with_name(path.name + "-wal")
    lost = log.exists() and log.stat().st_size
    # Another program may have made the database since it was looked at.
    if lost and not path.exists():
        raise StoreBroken(
            f"{path}: found nothing, though {log.name} beside it holds data, expected a database. "
            "Put a backup in its place, or move the -wal file away to start with an empty one."
        )


@contextmanager
def _readable(path: Path, wait_s: float) -> Iterator[sqlite3.Connection]:
    """A connection that reads the file with its log, also where nothing can be written.

    SQLite needs to write an index of the log beside the file. Where it cannot, no other program
    writes there either: a file without a log is read as one that never changes
    (https://www.sqlite.org/uri.html, "immutable"), and one with a log is copied together with it.
    """
    uri = path.absolute().as_uri()
    with closing(sqlite3.connect(f"{uri}?mode=ro", uri=True, timeout=wait_s)) as connection:
        try:
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
        except sqlite3.OperationalError as error:
            if _code(error) not in {sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY}:
                raise
        else:
            yield connection
            return
    log = path.with_name(path.name + "-wal")
    if not log.exists() or not log.stat().st_size:
        with closing(sqlite3.connect(f"{uri}?immutable=1", uri=True)) as connection:
            yield connection
        return
    with tempfile.TemporaryDirectory(prefix="chart-trainer-") as folder:
        copy = Path(folder) / "copy"
        shutil.copyfile(path, copy)
        shutil.copyfile(log, copy.with_name("copy-wal"))
        with closing(sqlite3.connect(copy)) as connection:
            yield connection


def _state(connection: sqlite3.Connection, path: Path) -> FileState:
    names = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
    if not names:
        return FileState(None)
    if "alembic_version" not in names:
        raise StoreBroken(
            f"{path}: found a database with the tables {', '.join(sorted(names)[:5])}, expected "
            f"one made by the trainer. {REMEDY}"
        )
    rows = connection.execute("SELECT version_num FROM alembic_version").fetchall()
    if len(rows) != 1:
        raise StoreBroken(f"{path}: found {len(rows)} revisions, expected one. {REMEDY}")
    (mark,) = connection.execute("PRAGMA user_version").fetchone()
    return FileState(str(rows[0][0]), must_erase=mark == MUST_ERASE)


def set_pragmas(connection: sqlite3.Connection, *, foreign_keys: bool) -> None:
    """Prepare a connection: whole transactions by our own BEGIN, nothing lost on power loss, and
    nothing left of what is deleted.
    """
    connection.isolation_level = None
    _log_ahead(connection)
    keys = f"foreign_keys = {'ON' if foreign_keys else 'OFF'}"
    for pragma in (keys, "synchronous = FULL", "secure_delete = ON"):
        connection.execute(f"PRAGMA {pragma}").close()


def _log_ahead(connection: sqlite3.Connection) -> None:
    """Switch a new file to a write-ahead log, or wait until another connection has.

    Two connections that switch at once would wait for each other, so SQLite refuses one of them
    at once instead of waiting as long as the connection's timeout says
    (https://www.sqlite.org/c3ref/busy_handler.html); that wait is made here.
    """
    (timeout_ms,) = connection.execute("PRAGMA busy_timeout").fetchone()
    until = time.monotonic() + timeout_ms / 1000
    while True:
        try:
            connection.execute("PRAGMA journal_mode = WAL").close()
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                raise
        time.sleep(random.uniform(0.002, 0.02))


def check_file(connection: sqlite3.Connection, path: str) -> None:
    """Raise StoreBroken with what SQLite's own integrity and foreign key checks find."""
    problems = [text for (text,) in connection.execute("PRAGMA integrity_check(5)")]
    problems = [] if problems == ["ok"] else problems
    problems += [
        f"a row of {table} without its {parent}"
        for table, _, parent, _ in connection.execute("PRAGMA foreign_key_check").fetchmany(5)
    ]
    if problems:
        raise StoreBroken(f"{path}: found {'; '.join(problems)}. {REMEDY}")


def copy_file(source: Path, target: Path, wait_s: float) -> None:
    """Copy a database that may be in use, by SQLite's backup API; `target` appears whole or not.

    Raises
    ------
    FileError
        If there is a file at `target`.
    StoreError
        If the copy cannot be made; what was written of it is removed.
    """
    try:
        with new_file(target) as part, translated_errors(f"{target} (a copy of {source})", wait_s):
            copy_into(source, part, wait_s)
    except FileExistsError as error:
        raise FileError(f"{target}: found a file, expected a name that isn't taken") from error
    except OSError as error:
        raise StoreError(f"{target}: {error.strerror}. {advice_for(error)}") from error


def copy_into(source: Path, target: Path, wait_s: float) -> None:
    """Copy a database over the empty file at `target`, which becomes one without a log.

    Raises sqlite3.Error as it comes.
    """
    with _readable(source, wait_s) as origin, closing(sqlite3.connect(target)) as copy:
        origin.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")


@contextmanager
def rows_that_go(connection: sqlite3.Connection) -> Iterator[set[str]]:
    """The tables that meanwhile lose rows or values, or go themselves; SQLite's and Alembic's own
    are not among them."""
    found: set[str] = set()

    def note(action: int, table: str | None, *_: str | None) -> int:
        if action in _LOSING and table and not table.startswith(_NOT_OURS):
            found.add(table)
        return sqlite3.SQLITE_OK

    connection.set_authorizer(note)
    try:
        yield found
    finally:
        connection.set_authorizer(None)


def mark_for_erasing(connection: sqlite3.Connection) -> None:
    """Note in the open transaction that `erase_deleted` is to follow, now or at the next start."""
    connection.execute(f"PRAGMA user_version = {MUST_ERASE}").close()


def erase_deleted(connection: sqlite3.Connection, path: str, wait_s: float) -> None:
    """Write the file again and empty its log, so that nothing of what was deleted is in either.

    `secure_delete` alone leaves copies: rows that moved within the file before they were deleted,
    and older pages in the log.

    Raises
    ------
    StoreLocked
        If others read or write all the time; the mark stays for the next start.
    """
    connection.execute("VACUUM").close()
    busy, _, _ = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    if busy:
        raise _locked(path, wait_s)
    connection.execute("PRAGMA user_version = 0").close()


@contextmanager
def translated_errors(path: Path | str, wait_s: float) -> Iterator[None]:
    """Turn SQLite's errors into ours."""
    try:
        yield
    except sqlite3.Error as error:
        raise translate_error(error, str(path), wait_s) from error


def translate_error(error: sqlite3.Error, path: str, wait_s: float) -> StoreError:
    """Our error for SQLite's: https://www.sqlite.org/rescode.html names the codes."""
    code = _code(error)
    if code in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}:
        return _locked(path, wait_s)
    if code in {sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT}:
        return StoreBroken(f"{path}: found damage ({error}), expected a database. {REMEDY}")
    return StoreError(f"{path}: {error}. {_SQLITE_ADVICE.get(code, 'Nothing was changed.')}")


def _code(error: sqlite3.Error) -> int:
    return getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF


def _locked(path: str, wait_s: float) -> StoreLocked:
    return StoreLocked(
        f"{path}: another program held the database for more than {wait_s:g} s. Close it, or "
        "wait until it is done, and try again."
    )


_WRITABLE = "Check that the folder and the file can be written to, or choose another with --data."
_ROOM = "Nothing was changed. Free some space on the disk and try again."
_SQLITE_ADVICE = {
    sqlite3.SQLITE_FULL: _ROOM,
    sqlite3.SQLITE_IOERR: "Nothing was changed. The disk may be full or failing.",
    sqlite3.SQLITE_READONLY: _WRITABLE,
    sqlite3.SQLITE_CANTOPEN: _WRITABLE,
    sqlite3.SQLITE_PERM: _WRITABLE,
}


def advice_for(error: OSError) -> str:
    """What to do about an error of the file system."""
    return _ROOM if error.errno in {errno.ENOSPC, errno.EDQUOT} else _WRITABLE
