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

from trainer.errors import StoreBroken, StoreError, StoreNewer
from trainer.store.database import EngineDatabase
from trainer.store.sqlite import check_file, copy_file

__all__ = ["SHIPPED", "Migrations", "back_up_before", "bring_up", "refuse_newer", "stored_revision"]


@dataclass(frozen=True, slots=True)
class Migrations:
    """A folder of migrations and its revisions, oldest first."""

    folder: Path
    revisions: tuple[str, ...]

    @property
    def head(self) -> str:
        """The present revision."""
        return self.revisions[-1]


SHIPPED = Migrations(Path(__file__).parent / "migrations", ("0001", "0002", "0003", "0004"))


def refuse_newer(name: str, revision: str | None, migrations: Migrations) -> None:
    """Raise StoreNewer unless `revision` (None: empty) is one of `migrations`."""
    if revision is not None and revision not in migrations.revisions:
        raise StoreNewer(
            f"{name}: found revision {revision!r}, expected at most {migrations.head!r}: a newer "
            "version of the trainer wrote it. It was left as it is. Update the trainer, or choose "
            "another folder with --data."
        )


def stored_revision(connection: Connection) -> str | None:
    """The revision that the database says it has; None if it is empty."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    revision = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if revision is None:
        raise StoreBroken("found no revision, expected one")
    return str(revision)


def back_up_before(path: Path, revision: str, wait_s: float) -> Path:
    """Copy the file beside itself, named with the revision it has, and say where."""
    number, target = 1, path.with_name(f"{path.stem}-before-{revision}-1{path.suffix}")
    while target.exists():
        number += 1
        target = path.with_name(f"{path.stem}-before-{revision}-{number}{path.suffix}")
    copy_file(path, target, wait_s)
    return target


def bring_up(
    url: URL, wait_s: float, migrations: Migrations = SHIPPED, backup: Path | None = None
) -> None:
    """Migrate to the head in one transaction; if anything fails the database stays as it was.

    Raises
    ------
    StoreError
        With the reason and where the `backup` is.
    """
    database = EngineDatabase(url, wait_s, migrating=True)
    try:
        with database.writing() as connection:
            # Another program may have migrated while this one waited for its turn.
            if stored_revision(connection) == migrations.head:
                return
            _upgrade(connection, migrations)
            if database.is_sqlite:
                raw = cast("SqliteConnection", connection.connection.driver_connection)
                check_file(raw, database.name)
    except StoreError:
        raise
    except Exception as error:
        kept = f" A copy made before is {backup}." if backup else ""
        raise StoreError(
            f"{database.name}: could not be brought to revision {migrations.head!r}: {error}. "
            f"Nothing was changed.{kept}"
        ) from error
    finally:
        database.close()


def _upgrade(connection: Connection, migrations: Migrations) -> None:
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(migrations.folder).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, "head")
