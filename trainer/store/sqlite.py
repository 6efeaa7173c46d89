"""All that is true of SQLite only: looking at a file before use, pragmas, errors, copies."""

from __future__ import annotations

import os
import random
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from trainer.errors import StoreBroken, StoreError, StoreLocked

__all__ = ["Found", "check_file", "copy_file", "explain", "look", "set_pragmas"]

MAGIC = b"SQLite format 3\x00"
REMEDY = (
    "It was left as it is. Put a backup in its place, or move it away to start with an empty one."
)


@dataclass(frozen=True, slots=True)
class Found:
    """What a file holds: `revision` of our tables, None if it is absent or still empty."""

    revision: str | None


def look(path: Path, wait_s: float) -> Found:
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
        size = path.stat().st_size
        with path.open("rb") as file:
            start = file.read(len(MAGIC))
    except FileNotFoundError:
        size, start = 0, b""
    except OSError as error:
        raise StoreError(f"{path}: {error.strerror}. {_advice(error.errno)}") from error
    if size == 0:
        _refuse_orphaned_log(path)
        return Found(None)
    if start != MAGIC:
        raise StoreBroken(
            f"{path}: found a file that starts with {start!r}, expected a database. {REMEDY}"
        )
    with faults(path, wait_s), closing(_read_only(path, wait_s)) as connection:
        return _revision(connection, path)


def _refuse_orphaned_log(path: Path) -> None:
    """A log without its database means the database was lost, not that it is new."""
    log = path.with_name(path.name + "-wal")
    lost = log.exists() and log.stat().st_size
    # Another program may have made the database since it was looked at.
    if lost and not (path.exists() and path.stat().st_size):
        raise StoreBroken(
            f"{path}: found nothing, though {log.name} beside it holds data, expected a database. "
            "Put a backup in its place, or move the -wal file away to start with an empty one."
        )


def _read_only(path: Path, wait_s: float) -> sqlite3.Connection:
    return sqlite3.connect(path.absolute().as_uri() + "?mode=ro", uri=True, timeout=wait_s)


def _revision(connection: sqlite3.Connection, path: Path) -> Found:
    names = {name for (name,) in connection.execute("SELECT name FROM sqlite_master")}
    if not names:
        return Found(None)
    if "alembic_version" not in names:
        raise StoreBroken(
            f"{path}: found a database with the tables {', '.join(sorted(names)[:5])}, expected "
            f"one made by the trainer. {REMEDY}"
        )
    rows = connection.execute("SELECT version_num FROM alembic_version").fetchall()
    if len(rows) != 1:
        raise StoreBroken(f"{path}: found {len(rows)} revisions, expected one. {REMEDY}")
    return Found(str(rows[0][0]))


def set_pragmas(connection: sqlite3.Connection, *, foreign_keys: bool) -> None:
    """Prepare a connection: whole transactions by our own BEGIN, and nothing lost on power loss."""
    connection.isolation_level = None
    _log_ahead(connection)
    for pragma in (f"foreign_keys = {'ON' if foreign_keys else 'OFF'}", "synchronous = FULL"):
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
    StoreError
        If the copy cannot be made; what was written of it is removed.
    """
    part = target.with_name(target.name + ".part")
    try:
        with (
            faults(f"{target} (a copy of {source})", wait_s),
            closing(_read_only(source, wait_s)) as origin,
            closing(sqlite3.connect(part, timeout=wait_s)) as copy,
        ):
            origin.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        _sync(part)
        part.replace(target)
    except OSError as error:
        raise StoreError(f"{target}: {error.strerror}. {_advice(error.errno)}") from error
    finally:
        part.unlink(missing_ok=True)


def _sync(path: Path) -> None:
    with path.open("rb+") as file:
        os.fsync(file.fileno())


@contextmanager
def faults(path: Path | str, wait_s: float) -> Iterator[None]:
    """Turn SQLite's errors into ours."""
    try:
        yield
    except sqlite3.Error as error:
        raise explain(error, str(path), wait_s) from error


def explain(error: sqlite3.Error, path: str, wait_s: float) -> StoreError:
    """Our error for SQLite's: https://www.sqlite.org/rescode.html names the codes."""
    code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return StoreLocked(
            f"{path}: another program held the database for more than {wait_s:g} s. Close it, or "
            "wait until it is done, and try again."
        )
    if code in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT):
        return StoreBroken(f"{path}: found damage ({error}), expected a database. {REMEDY}")
    return StoreError(f"{path}: {error}. {_SQLITE_ADVICE.get(code, 'Nothing was changed.')}")


_WRITABLE = "See that the folder and the file can be written, or choose another with --data."
_ROOM = "Nothing was changed. Free some space on the disk and try again."
_SQLITE_ADVICE = {
    sqlite3.SQLITE_FULL: _ROOM,
    sqlite3.SQLITE_IOERR: "Nothing was changed. The disk may be full or failing.",
    sqlite3.SQLITE_READONLY: _WRITABLE,
    sqlite3.SQLITE_CANTOPEN: _WRITABLE,
    sqlite3.SQLITE_PERM: _WRITABLE,
}


def _advice(number: int | None) -> str:
    import errno

    return _ROOM if number in (errno.ENOSPC, errno.EDQUOT) else _WRITABLE
