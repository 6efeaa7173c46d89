"""The store: opens a database safely and hands out its repositories."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from sqlite3 import Connection as SqliteConnection
from types import TracebackType
from typing import Self, cast

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError

from trainer.errors import FileError, StoreError
from trainer.store.attempts import Attempts
from trainer.store.database import BoundDatabase, Database, EngineDatabase
from trainer.store.drills import OpenDrills
from trainer.store.exercises import Exercises
from trainer.store.folder import FILE_NAME, default_data_folder
from trainer.store.learners import Learners
from trainer.store.migrate import (
    SHIPPED,
    Migrations,
    back_up_before,
    bring_up,
    refuse_newer,
    stored_revision,
)
from trainer.store.progress import Progress
from trainer.store.ratings import Ratings
from trainer.store.restore import restore_file
from trainer.store.sets import Sets
from trainer.store.sqlite import check_file, copy_file, look
from trainer.store.transfer import Transfer

__all__ = ["Repositories", "Store"]


class Repositories:
    """All that is remembered, by kind. The repositories share one database."""

    def __init__(self, database: Database) -> None:
        self._bound_to = database
        self.learners = Learners(database)
        self.exercises = Exercises(database)
        self.open_drills = OpenDrills(database)
        self.attempts = Attempts(database)
        self.progress = Progress(database)
        self.ratings = Ratings(database)
        self.sets = Sets(database)
        self.transfer = Transfer(database)

    @contextmanager
    def transaction(self) -> Iterator[Repositories]:
        """Repositories that share one transaction: committed whole, or not at all if it raises.

        Within a transaction this joins it. The store itself, used meanwhile, does not see what was
        written; on SQLite its writes would wait for the end of this transaction.
        """
        with self._bound_to.writing() as connection:
            yield Repositories(BoundDatabase(self._bound_to, connection))


class Store(Repositories):
    """All that is remembered, in one database. Use it as a context manager, or `close` it.

    A store may be shared by threads; several programs may have the same file open.

    Parameters
    ----------
    location : a folder (made if need be, the file in it is `FILE_NAME`) or a database URL.
    wait_s : seconds to wait for another program's write.
    migrations : how older databases are brought up; the shipped ones unless testing.

    Raises
    ------
    StoreBroken, StoreLocked, StoreNewer
        If the file is not usable; it is left as it is.
    StoreError
        If the folder or file cannot be read or written.
    """

    def __init__(
        self, location: str | Path, *, wait_s: float = 5.0, migrations: Migrations = SHIPPED
    ) -> None:
        url = _url(location)
        self.path = Path(str(url.database)) if url.get_backend_name() == "sqlite" else None
        if self.path:
            _prepare_file(self.path, url, wait_s, migrations)
        else:
            _prepare_server(url, wait_s, migrations)
        self._database = EngineDatabase(url, wait_s)
        super().__init__(self._database)

    @classmethod
    def open(cls, folder_or_url: str | Path | None = None, *, wait_s: float = 5.0) -> Self:
        """Open the store in a folder, at a URL, or (None) in the user's data folder."""
        return cls(default_data_folder() if folder_or_url is None else folder_or_url, wait_s=wait_s)

    def close(self) -> None:
        """Let go of the database."""
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def backup(self, path: str | Path) -> Path:
        """Copy everything stored so far into a new file; others may go on writing meanwhile.

        Raises
        ------
        FileError
            If there is a file at `path` already.
        StoreError
            If the copy cannot be made, or the database is a server's.
        """
        target = Path(path)
        if target.exists():
            raise FileError(f"{target}: found a file, expected a name that is free")
        copy_file(self._own_file("backup"), target, self._database.wait_s)
        return target

    @staticmethod
    def restore(
        backup: str | Path, folder_or_url: str | Path | None = None, *, wait_s: float = 5.0
    ) -> Path | None:
        """Put a backup in place of the store; where a copy of what was there is, None if nothing.

        Raises what `restore.restore_file` raises, and StoreError for a database server's.
        """
        url = _url(default_data_folder() if folder_or_url is None else folder_or_url)
        if url.get_backend_name() != "sqlite":
            raise StoreError(f"{url.host}: restore is for a file; use the database server's tools")
        return restore_file(Path(backup), Path(str(url.database)), wait_s, SHIPPED)

    def check(self) -> None:
        """Read the whole file and raise StoreBroken if any of it is damaged."""
        path = self._own_file("check")
        with self._database.reading() as connection:
            raw = cast("SqliteConnection", connection.connection.driver_connection)
            check_file(raw, str(path))

    def _own_file(self, what: str) -> Path:
        if self.path is None:
            raise StoreError(
                f"{self._database.name}: {what} is for a file; use the database server's own tools"
            )
        return self.path


def _url(location: str | Path) -> URL:
    """The database URL of a folder or URL."""
    if isinstance(location, Path) or "://" not in location:
        return URL.create("sqlite", database=str(Path(location).expanduser() / FILE_NAME))
    try:
        url = make_url(location)
    except (ArgumentError, ValueError) as error:
        raise StoreError(f"{location}: found no database URL: {error}") from error
    if url.get_backend_name() == "sqlite" and url.database in (None, "", ":memory:"):
        raise StoreError(f"{location}: found no file name, expected sqlite:///folder/file")
    return url


def _prepare_file(path: Path, url: URL, wait_s: float, migrations: Migrations) -> None:
    """See that the file is ours and up to date; make it if it is not there."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"{path.parent}: {error.strerror}, expected a folder that can be written. Choose "
            "another with --data."
        ) from error
    revision = look(path, wait_s).revision
    refuse_newer(str(path), revision, migrations)
    if revision == migrations.head:
        return
    backup = back_up_before(path, revision, wait_s) if revision else None
    bring_up(url, wait_s, migrations, backup)


def _prepare_server(url: URL, wait_s: float, migrations: Migrations) -> None:
    database = EngineDatabase(url, wait_s, migrating=True)
    try:
        with database.reading() as connection:
            revision = stored_revision(connection)
    finally:
        database.close()
    refuse_newer(url.render_as_string(), revision, migrations)
    if revision != migrations.head:
        bring_up(url, wait_s, migrations)
