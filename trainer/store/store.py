"""The store: opens a database safely and hands out its repositories."""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self, TypeVar

from sqlalchemy import URL

from trainer.errors import FileError, StoreConflict, StoreError
from trainer.store.account_links import AccountLinks
from trainer.store.accounts import Accounts
from trainer.store.address import display_name, url_of
from trainer.store.assigned import AssignedWork
from trainer.store.assignments import Assignments
from trainer.store.attempts import Attempts
from trainer.store.audit_log import AuditLog, ServerSecrets
from trainer.store.class_grades import ClassGrades
from trainer.store.classes import Classes
from trainer.store.database import Database, EngineDatabase
from trainer.store.dictations import Dictations
from trainer.store.drills import OpenDrills
from trainer.store.exercises import Exercises
from trainer.store.files import make_folder, take_rights_of_others
from trainer.store.identities import Identities, UsedOnce
from trainer.store.learners import Learners
from trainer.store.lesson_runs import LessonRuns
from trainer.store.lti import Lti
from trainer.store.migrate import (
    SHIPPED,
    Migrations,
    back_up_before,
    make_file,
    refuse_newer,
    stored_revision,
    upgrade,
)
from trainer.store.progress import Progress
from trainer.store.ratings import Ratings
from trainer.store.restore import restore_file
from trainer.store.sessions import Sessions, SignInFailures
from trainer.store.sets import Sets
from trainer.store.song_sets import SongSets
from trainer.store.songs import Songs
from trainer.store.sqlite import copy_file, inspect_file
from trainer.store.transfer import Transfer

__all__ = ["Repositories", "Store"]


_LOG = logging.getLogger(__name__)
Result = TypeVar("Result")
# How often `transact` begins in all.
MOST_TRIES = 4


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
        self.lesson_runs = LessonRuns(database)
        self.songs = Songs(database)
        self.song_sets = SongSets(database)
        self.transfer = Transfer(database)
        self.accounts = Accounts(database)
        self.sessions = Sessions(database)
        self.sign_in_failures = SignInFailures(database)
        self.account_links = AccountLinks(database)
        self.audit_log = AuditLog(database)
        self.server_secrets = ServerSecrets(database)
        self.identities = Identities(database)
        self.used_once = UsedOnce(database)
        self.lti = Lti(database)
        self.classes = Classes(database)
        self.assignments = Assignments(database)
        self.assigned = AssignedWork(database)
        self.class_grades = ClassGrades(database)
        self.dictations = Dictations(database)

    @contextmanager
    def transaction(self) -> Iterator[Repositories]:
        """Repositories that share one transaction: committed whole, or not at all if it raises.

        Within a transaction this joins it. The store itself, used meanwhile, does not see what was
        written; on SQLite its writes would wait for the end of this transaction.
        """
        with self._bound_to.bound() as database:
            yield Repositories(database)

    def transact(self, work: Callable[[Repositories], Result]) -> Result:
        """Do `work` in a transaction, and again from the start if another writer was in its way.

        Only PostgreSQL makes this necessary: where two transactions wait for each other it ends
        one of them. `work` must do nothing else that cannot be done twice.

        Raises
        ------
        StoreConflict
            If it was in the way `MOST_TRIES` times.
        """
        for _ in range(MOST_TRIES - 1):
            try:
                with self.transaction() as inside:
                    return work(inside)
            except StoreConflict as error:
                _LOG.info("%s", error)
        with self.transaction() as inside:
            return work(inside)


class Store(Repositories):
    """All that is remembered, in one database. Use it as a context manager, or `close` it.

    A store may be shared by threads; several programs may have the same file open.

    Parameters
    ----------
    location : a folder (made if need be, the file in it is `FILE_NAME`), a database URL, or None
        for the user's data folder.
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
        self, location: str | Path | None, *, wait_s: float = 5.0, migrations: Migrations = SHIPPED
    ) -> None:
        url = url_of(location)
        self.path = Path(str(url.database)) if url.get_backend_name() == "sqlite" else None
        must_erase = False
        self._database = EngineDatabase(url, wait_s)
        if self.path:
            must_erase = _prepare_file(self.path, url, wait_s, migrations)
        else:
            _prepare_server(self._database, url, migrations)
        if must_erase:
            self._database.erase_deleted()
        super().__init__(self._database)

    @classmethod
    def open(cls, folder_or_url: str | Path | None = None, *, wait_s: float = 5.0) -> Self:
        """Open the store in a folder, at a URL, or (None) in the user's data folder."""
        return cls(folder_or_url, wait_s=wait_s)

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
        if self.path is None:
            raise _for_a_file(self._database.name, "backup")
        copy_file(self.path, target, self._database.wait_s)
        return target

    @staticmethod
    def back_up(
        path: str | Path, folder_or_url: str | Path | None = None, *, wait_s: float = 5.0
    ) -> Path:
        """Copy a store into a new file without opening it, so that it may be on a read-only disk.

        Raises
        ------
        FileError
            If there is a file at `path` already, or no store to copy.
        StoreError
            If the copy cannot be made, or the database is a server's.
        """
        source, target = _file_of(folder_or_url, "backup"), Path(path)
        if inspect_file(source, wait_s).revision is None:
            raise FileError(f"{source}: found no record, expected one to back up")
        copy_file(source, target, wait_s)
        return target

    @staticmethod
    def restore(
        backup: str | Path, folder_or_url: str | Path | None = None, *, wait_s: float = 5.0
    ) -> Path | None:
        """Put a backup in place of the store; where a copy of what was there is, None if nothing.

        Raises what `restore.restore_file` raises, and StoreError for a database server's.
        """
        return restore_file(Path(backup), _file_of(folder_or_url, "restore"), wait_s, SHIPPED)


def _file_of(location: str | Path | None, what: str) -> Path:
    """The file of a store that is to be copied or filled as one."""
    url = url_of(location)
    if url.get_backend_name() != "sqlite":
        raise _for_a_file(display_name(url), what)
    return Path(str(url.database))


def _for_a_file(name: str, what: str) -> StoreError:
    return StoreError(
        f"{name}: {what} is for a file; use the database server's own tools (pg_dump, pg_restore)"
    )


def _prepare_file(path: Path, url: URL, wait_s: float, migrations: Migrations) -> bool:
    """See that the file is ours and up to date; make it if it is not there.

    Returns whether traces of what was deleted are still to be erased from it.
    """
    try:
        make_folder(path.parent)
        take_rights_of_others(path)
    except OSError as error:
        raise StoreError(
            f"{path.parent}: {error.strerror}, expected a folder the program can write to. Choose "
            "another with --data."
        ) from error
    state = inspect_file(path, wait_s)
    refuse_newer(str(path), state.revision, migrations)
    if state.revision == migrations.head:
        return state.must_erase
    if not path.exists():
        make_file(path, wait_s, migrations)
        return False
    backup = back_up_before(path, state.revision, wait_s) if state.revision else None
    upgrade(url, wait_s, migrations, backup)
    return True


def _prepare_server(database: EngineDatabase, url: URL, migrations: Migrations) -> None:
    """See that the database is ours and up to date; make its tables if there are none."""
    try:
        with database.reading() as connection:
            revision = stored_revision(connection, database.name)
        refuse_newer(database.name, revision, migrations)
        if revision != migrations.head:
            upgrade(url, database.wait_s, migrations)
    except StoreError:
        database.close()
        raise
