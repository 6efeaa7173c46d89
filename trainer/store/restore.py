"""Put a backup in place of a store's file."""

from __future__ import annotations

import sqlite3
import tempfile
from contextlib import closing
from pathlib import Path

from sqlalchemy import URL

from trainer.errors import FileError, StoreBroken, StoreError
from trainer.store.files import free_name, make_folder, side_files, take_rights_of_others
from trainer.store.migrate import Migrations, back_up_before, refuse_newer, upgrade
from trainer.store.sqlite import (
    advice_for,
    check_file,
    copy_file,
    inspect_file,
    translated_errors,
)

__all__ = ["restore_file"]


def restore_file(backup: Path, path: Path, wait_s: float, migrations: Migrations) -> Path | None:
    """Fill the file at `path` with a backup; where what it had is kept, None if it had nothing.

    An older backup is brought to the present revision first, in a copy. Then all pages change in
    one transaction, so programs that have the file open go on with what was restored, and a kill
    on the way leaves it as it was. A damaged file is moved aside instead.

    Raises
    ------
    FileError
        If there is no backup, or it is the file itself.
    StoreBroken, StoreNewer, StoreLocked, StoreError
        If the backup cannot be used or the file cannot be written; the file is left as it is.
    """
    if not backup.is_file() or (path.exists() and backup.samefile(path)):
        raise FileError(f"{backup}: found no backup, expected a file that `backup` made")
    if not backup.stat().st_size:
        raise FileError(f"{backup}: found an empty file, expected one that `backup` made")
    revision = inspect_file(backup, wait_s).revision
    if revision is None:
        raise FileError(f"{backup}: found no tables, expected a file that `backup` made")
    refuse_newer(str(backup), revision, migrations)
    try:
        make_folder(path.parent)
        with tempfile.TemporaryDirectory(prefix=f"{path.stem}-restore-", dir=path.parent) as folder:
            ready = Path(folder) / backup.name
            _prepare(backup, ready, revision, wait_s, migrations)
            return _put_in_place(ready, path, wait_s)
    except OSError as error:
        raise StoreError(f"{path}: {error.strerror}. {advice_for(error)}") from error


def _prepare(
    backup: Path, ready: Path, revision: str, wait_s: float, migrations: Migrations
) -> None:
    """Copy a backup to `ready`, see that it is whole, and bring it to the present revision."""
    copy_file(backup, ready, wait_s)
    with translated_errors(backup, wait_s), closing(sqlite3.connect(ready)) as copy:
        check_file(copy, str(backup))
    if revision != migrations.head:
        upgrade(URL.create("sqlite", database=str(ready)), wait_s, migrations)


def _put_in_place(ready: Path, path: Path, wait_s: float) -> Path | None:
    try:
        had = inspect_file(path, wait_s).revision
    except StoreBroken:
        damaged = _move_aside(path)
        copy_file(ready, path, wait_s)
        return damaged
    if not path.exists():
        copy_file(ready, path, wait_s)
        return None
    kept = back_up_before(path, f"restore-{had}", wait_s) if had else None
    with (
        translated_errors(path, wait_s),
        closing(sqlite3.connect(ready)) as source,
        closing(sqlite3.connect(path, timeout=wait_s)) as target,
    ):
        source.backup(target)
    take_rights_of_others(path)
    return kept


def _move_aside(path: Path) -> Path:
    """Give a file that is no usable store, with what is beside it, a name of its own."""
    kept = free_name(path, "restore-damaged")
    found = [file for file in (path, *side_files(path)) if file.exists()]
    for file in found:
        file.rename(file.with_name(kept.name + file.name.removeprefix(path.name)))
    return kept
