"""Put a backup in place of a store's file."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

from trainer.errors import FileError
from trainer.store.migrate import Migrations, back_up_before, refuse_newer
from trainer.store.sqlite import check_file, faults, look

__all__ = ["restore_file"]


def restore_file(backup: Path, path: Path, wait_s: float, migrations: Migrations) -> Path | None:
    """Fill the file at `path` with a backup; where a copy of what it had is, None if it had none.

    All pages change in one transaction, so programs that have the file open go on with what was
    restored, and a kill on the way leaves it as it was.

    Raises
    ------
    FileError
        If there is no backup, or it is the file itself.
    StoreBroken, StoreNewer, StoreLocked, StoreError
        If the backup cannot be used or the file cannot be written; the file is left as it is.
    """
    if not backup.is_file() or (path.exists() and backup.samefile(path)):
        raise FileError(f"{backup}: found no backup, expected a file that `backup` made")
    revision = look(backup, wait_s).revision
    if revision is None:
        raise FileError(f"{backup}: found an empty file, expected one that `backup` made")
    refuse_newer(str(backup), revision, migrations)
    with closing(sqlite3.connect(f"{backup.absolute().as_uri()}?mode=ro", uri=True)) as source:
        with faults(backup, wait_s):
            check_file(source, str(backup))
        path.parent.mkdir(parents=True, exist_ok=True)
        had = look(path, wait_s).revision
        kept = back_up_before(path, f"restore-{had}", wait_s) if had else None
        with faults(path, wait_s), closing(sqlite3.connect(path, timeout=wait_s)) as target:
            source.backup(target)
    return kept
