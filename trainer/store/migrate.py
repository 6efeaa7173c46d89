"""Bring a database to the present revision.

What revision is the present one stands here as a constant, so that opening a store that is up to
date needs neither Alembic nor a look at the folder; a test holds the two together.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from sqlite3 import Connection as SqliteConnection
from typing import cast

from sqlalchemy import URL, Connection, inspect, text

from trainer.errors import StoreBroken, StoreError, StoreLocked, StoreNewer
from trainer.store.database import EngineDatabase
from trainer.store.files import free_name, new_file
from trainer.store.postgresql import wait_for_migration
from trainer.store.sqlite import (
    advice_for,
    check_file,
    copy_file,
    mark_for_erasing,
    rows_that_go,
)

__all__ = [
    "SHIPPED",
    "Migrations",
    "back_up_before",
    "make_file",
    "refuse_newer",
    "stored_revision",
    "upgrade",
]

LONGEST_MIGRATION_S = 60


@dataclass(frozen=True, slots=True)
class Migrations:
    """A folder of migrations and its revisions, oldest first."""

    folder: Path
    revisions: tuple[str, ...]

    @property
    def head(self) -> str:
        """The present revision."""
        return self.revisions[-1]


SHIPPED = Migrations(
    Path(__file__).parent / "migrations",
    (
        "0001",
        "0002",
        "0003",
        "0004",
        "0005",
        "0006",
        "0007",
        "0008",
        "0009",
        "0010",
        "0011",
        "0012",
        "0013",
        "0014",
        "0015",
    ),
)


def refuse_newer(name: str, revision: str | None, migrations: Migrations) -> None:
    """Raise StoreNewer unless `revision` (None: empty) is one of `migrations`."""
    if revision is not None and revision not in migrations.revisions:
        raise StoreNewer(
            f"{name}: found revision {revision!r}, expected at most {migrations.head!r}: a newer "
            "version of the trainer wrote it. It was left as it is. Update the trainer, or choose "
            "another folder with --data."
        )


def stored_revision(connection: Connection, name: str) -> str | None:
    """The revision that a database server's store says it has; None if there are no tables yet.

    Raises
    ------
    StoreBroken
        If the tables are another program's, or the revision is lost.
    """
    tables = inspect(connection).get_table_names()
    if not tables:
        return None
    if "alembic_version" not in tables:
        raise StoreBroken(
            f"{name}: found the tables {', '.join(sorted(tables)[:5])}, expected a database made "
            "by the trainer or an empty one. Nothing was changed."
        )
    rows = connection.execute(text("SELECT version_num FROM alembic_version")).all()
    if len(rows) != 1:
        raise StoreBroken(f"{name}: found {len(rows)} revisions, expected one")
    return str(rows[0][0])


def make_file(path: Path, wait_s: float, migrations: Migrations) -> None:
    """Make a new store's file: whole, or not at all; one that another program made first stays.

    Raises
    ------
    StoreError
        If it cannot be made.
    """
    try:
        with new_file(path) as made:
            upgrade(URL.create("sqlite", database=str(made)), wait_s, migrations)
    except FileExistsError:
        return
    except OSError as error:
        raise StoreError(f"{path}: {error.strerror}. {advice_for(error)}") from error


def back_up_before(path: Path, revision: str, wait_s: float) -> Path:
    """Copy the file beside itself, named with the revision it has, and say where."""
    target = free_name(path, revision)
    copy_file(path, target, wait_s)
    return target


def upgrade(
    url: URL, wait_s: float, migrations: Migrations = SHIPPED, backup: Path | None = None
) -> None:
    """Migrate to the head in one transaction; if anything fails the database stays as it was.

    Raises
    ------
    StoreError
        With the reason and where the `backup` is.
    """
    is_file = url.get_backend_name() == "sqlite"
    # On a server every program waits here for the one that makes the tables.
    longest_s = wait_s if is_file else max(wait_s, LONGEST_MIGRATION_S)
    database = EngineDatabase(url, longest_s, migrating=True)
    try:
        with database.writing() as connection:
            if is_file:
                _upgrade_file(connection, database.name, migrations)
            else:
                wait_for_migration(connection)
                _run(connection, migrations)
    except StoreLocked:
        raise
    except Exception as error:
        kept = f" A copy made before is {backup}." if backup else ""
        said = str(error).removeprefix(f"{database.name}: ").removesuffix(".")
        raise StoreError(
            f"{database.name}: could not be brought to revision {migrations.head!r}: {said}. "
            f"Nothing was changed.{kept}"
        ) from error
    finally:
        database.close()


def _upgrade_file(connection: Connection, name: str, migrations: Migrations) -> None:
    raw = cast("SqliteConnection", connection.connection.driver_connection)
    had_tables = inspect(connection).has_table("alembic_version")
    with rows_that_go(raw) as gone:
        _run(connection, migrations)
    check_file(raw, name)
    # Tables that were made again leave their old rows behind; new tables and columns leave nothing,
    # and writing a large file again would keep everybody waiting for minutes.
    if had_tables and gone:
        mark_for_erasing(raw)


def _run(connection: Connection, migrations: Migrations) -> None:
    """Run what is missing; nothing, if another program did it while this one waited."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(migrations.folder).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, migrations.head)
