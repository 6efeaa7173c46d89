"""Connections, transactions and errors behind the repositories, on SQLite and PostgreSQL alike."""

from __future__ import annotations

import sqlite3
from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from datetime import date
from functools import partial
from json import dumps
from typing import TYPE_CHECKING, Any

from sqlalchemy import (
    URL,
    Column,
    ColumnElement,
    Connection,
    Engine,
    Integer,
    NullPool,
    Table,
    cast,
    create_engine,
    event,
    func,
    literal,
)
from sqlalchemy.dialects import sqlite
from sqlalchemy.engine import ExceptionContext
from sqlalchemy.exc import ArgumentError, IntegrityError, SQLAlchemyError

from trainer.errors import StoreError
from trainer.store.sqlite import explain, set_pragmas

if TYPE_CHECKING:
    from sqlalchemy.dialects import postgresql

__all__ = ["BoundDatabase", "Database", "EngineDatabase", "pieces", "upsert"]

Rows = Sequence[Mapping[str, Any]]
# The Julian day at the start of what `date.toordinal` calls day 0.
JULIAN_DAY_0 = 1721424.5


class Database(ABC):
    """How repositories read and write; `name` is what messages call the database.

    `EngineDatabase` gives every `reading` and `writing` a transaction of its own; `BoundDatabase`
    lets them all share one.
    """

    name: str
    is_sqlite: bool

    @abstractmethod
    def reading(self) -> AbstractContextManager[Connection]:
        """A connection that sees one state of the database throughout."""

    @abstractmethod
    def writing(self) -> AbstractContextManager[Connection]:
        """A transaction that is committed whole at the end, or not at all if anything is raised.

        Raises
        ------
        StoreError
            If what is written refers to what is no longer there.
        """


class EngineDatabase(Database):
    """A database with connections of its own; each `reading` or `writing` is one transaction.

    Parameters
    ----------
    url : where it is.
    wait_s : seconds to wait for another writer.
    migrating : off for daily use; on to rebuild tables, which foreign keys would hinder.
    """

    def __init__(self, url: URL, wait_s: float, *, migrating: bool = False) -> None:
        self.is_sqlite = url.get_backend_name() == "sqlite"
        self.name = str(url.database) if self.is_sqlite else url.render_as_string()
        self.wait_s = wait_s
        self.engine = self._make_engine(url, migrating)
        event.listen(self.engine, "handle_error", self._translate)
        if self.is_sqlite:
            event.listen(
                self.engine,
                "connect",
                lambda connection, _: set_pragmas(connection, foreign_keys=not migrating),
            )
            event.listen(self.engine, "begin", _begin)

    def _make_engine(self, url: URL, migrating: bool) -> Engine:
        options: dict[str, Any] = {"poolclass": NullPool} if migrating else {}
        if self.is_sqlite:
            options["connect_args"] = {"timeout": self.wait_s}
        to_json = partial(dumps, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        try:
            return create_engine(url, json_serializer=to_json, **options)
        except (ImportError, ArgumentError) as error:
            raise StoreError(
                f"{self.name}: this kind of database cannot be used here: {error}"
            ) from error

    def _translate(self, context: ExceptionContext) -> None:
        """Raise our error in place of the driver's; a broken constraint is for the caller."""
        if isinstance(context.sqlalchemy_exception, IntegrityError):
            return
        if isinstance(context.original_exception, sqlite3.Error):
            raise explain(context.original_exception, self.name, self.wait_s)
        if isinstance(context.sqlalchemy_exception, SQLAlchemyError):
            raise StoreError(f"{self.name}: {context.original_exception}")

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction of its own that only reads."""
        with self.engine.connect() as connection:
            if not self.is_sqlite:
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            with connection.begin():
                yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction of its own; on SQLite it waits at its start until no other writes."""
        with _constraints_explained(self.name), self.engine.connect() as connection:
            connection = connection.execution_options(writes=True)
            with connection.begin():
                yield connection

    def close(self) -> None:
        """Give up every connection."""
        self.engine.dispose()


class BoundDatabase(Database):
    """A database seen through one open transaction, which every `reading` and `writing` joins.

    What fails inside a `writing` undoes what that `writing` did, as a savepoint does; whether the
    rest is committed is for whoever opened the transaction.
    """

    def __init__(self, database: Database, connection: Connection) -> None:
        self.name, self.is_sqlite = database.name, database.is_sqlite
        self._connection = connection

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """The open transaction's connection, with all that was written in it so far."""
        yield self._connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A savepoint in the open transaction."""
        with _constraints_explained(self.name), self._connection.begin_nested():
            yield self._connection


@contextmanager
def _constraints_explained(name: str) -> Iterator[None]:
    try:
        yield
    except IntegrityError as error:
        raise StoreError(
            f"{name}: nothing was stored: {error.orig}. Was the learner deleted meanwhile?"
        ) from error


def _begin(connection: Connection) -> None:
    """Begin as a writer at once, so that a writer waits its turn instead of failing half-way."""
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def pieces(connection: Connection, day: Column[Any], since: date, step: int) -> ColumnElement[int]:
    """Which stretch of `step` days a day is in, counted from `since`: 0, 1, 2..."""
    if connection.dialect.name == "sqlite":
        return cast(func.julianday(day) - (since.toordinal() + JULIAN_DAY_0), Integer) // step
    return cast(day - literal(since), Integer) // step


def upsert(
    connection: Connection,
    table: Table,
    rows: Rows,
    *,
    add: Sequence[str] = (),
    replace: Sequence[str] = (),
) -> None:
    """Insert rows; where the key is there already, add to or replace the named columns.

    With neither, the row that is there stays as it is. The key is the table's primary key or any
    other that is unique.
    """
    if not rows:
        return
    statement = _insert(connection.dialect.name, table)
    changes = {name: table.c[name] + statement.excluded[name] for name in add}
    changes |= {name: statement.excluded[name] for name in replace}
    if changes:
        statement = statement.on_conflict_do_update(index_elements=table.primary_key, set_=changes)
    else:
        statement = statement.on_conflict_do_nothing()
    connection.execute(statement, list(rows))


def _insert(dialect: str, table: Table) -> sqlite.Insert | postgresql.Insert:
    if dialect == "postgresql":
        from sqlalchemy.dialects import postgresql

        return postgresql.insert(table)
    return sqlite.insert(table)
