"""Connections, transactions and errors behind the repositories, on SQLite and PostgreSQL alike.

What differs between the two stands here, in `sqlite.py` and in `postgresql.py`. A write that
depends on what was read before it holds on both by a constraint, by `upsert`, or by a row lock
(`select(...).with_for_update()`, which SQLite leaves out: there one transaction writes at a time).
On PostgreSQL `writing` reads what others have committed so far (READ COMMITTED) and `reading` sees
one state throughout (REPEATABLE READ).
"""

from __future__ import annotations

import logging
import sqlite3
import threading
from abc import ABC, abstractmethod
from collections.abc import Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager, nullcontext
from datetime import date
from functools import partial
from json import dumps
from typing import TYPE_CHECKING, Any, cast

from sqlalchemy import (
    URL,
    Column,
    ColumnElement,
    Connection,
    Engine,
    Integer,
    NullPool,
    Table,
    create_engine,
    event,
    func,
    literal,
)
from sqlalchemy import cast as sql_cast
from sqlalchemy.dialects import sqlite
from sqlalchemy.engine import ExceptionContext
from sqlalchemy.exc import DBAPIError, IntegrityError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from trainer.errors import StoreError, StoreLocked
from trainer.store import postgresql as server
from trainer.store import sqlite as file
from trainer.store.address import display_name

if TYPE_CHECKING:
    from sqlalchemy.dialects import postgresql

__all__ = ["BoundDatabase", "Database", "EngineDatabase", "day_stretch", "upsert"]

_LOG = logging.getLogger(__name__)
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

    @abstractmethod
    def erase_deleted(self) -> None:
        """Leave nothing of what was deleted in SQLite's file and log; see `erasing`."""

    @contextmanager
    def erasing(self) -> Iterator[Connection]:
        """As `writing`, for deleting what somebody wants gone.

        Once it is committed, nothing of what was deleted is left in SQLite's file and log; a
        database server cleans up by its own rules.
        """
        with self.writing() as connection:
            yield connection
            if self.is_sqlite:
                file.mark_for_erasing(_sqlite_connection(connection))
        self.erase_deleted()

    @contextmanager
    def bound(self) -> Iterator[BoundDatabase]:
        """This database within one transaction, committed whole at the end or not at all."""
        with self.writing() as connection:
            bound = BoundDatabase(self, connection)
            yield bound
        if bound.must_erase:
            self.erase_deleted()


class EngineDatabase(Database):
    """A database with connections of its own; each `reading` or `writing` is one transaction.

    Parameters
    ----------
    url : where it is, as `address.url_of` makes it.
    wait_s : seconds to wait for another writer.
    migrating : off for daily use; on to rebuild tables, which foreign keys would hinder.
    """

    def __init__(self, url: URL, wait_s: float, *, migrating: bool = False) -> None:
        self.is_sqlite = url.get_backend_name() == "sqlite"
        self.name = display_name(url)
        self.wait_s = wait_s
        # SQLite lets one connection write and has the others look again and again, in no order.
        # Writers of this process wait for each other here, so that none of many is passed over.
        self._writers = threading.Lock()
        self.engine = self._make_engine(url, migrating)
        event.listen(self.engine, "handle_error", self._translate)
        if self.is_sqlite:
            event.listen(
                self.engine,
                "connect",
                lambda connection, _: file.set_pragmas(connection, foreign_keys=not migrating),
            )
            event.listen(self.engine, "begin", _begin)
        else:
            event.listen(
                self.engine, "connect", lambda connection, _: server.set_session(connection, wait_s)
            )

    def _make_engine(self, url: URL, migrating: bool) -> Engine:
        if self.is_sqlite:
            # A connection costs little, and a caller who waits for one already waits for the file's
            # writer.
            options: dict[str, Any] = {
                "connect_args": {"timeout": self.wait_s},
                "max_overflow": -1,
            }
        else:
            options = server.engine_options(url, self.wait_s)
        if migrating:
            options = {"poolclass": NullPool, "connect_args": options["connect_args"]}
        to_json = partial(dumps, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
        try:
            return create_engine(url, json_serializer=to_json, **options)
        except ImportError as error:
            raise StoreError(
                f"{self.name}: found no driver for this database ({error}), expected the optional "
                "part `postgresql`: .venv/bin/pip install 'psycopg[binary]'"
            ) from error

    def _translate(self, context: ExceptionContext) -> None:
        """Raise our error in place of the driver's; a broken constraint is for the caller."""
        found = context.sqlalchemy_exception
        # The pool replaces a connection that fails its test, so this is not reported.
        if context.is_pre_ping or isinstance(found, IntegrityError):
            return
        original = context.original_exception
        if isinstance(original, sqlite3.Error):
            raise file.translate_error(original, self.name, self.wait_s)
        if isinstance(found, DBAPIError) and isinstance(original, Exception):
            raise server.translate_error(
                original, self.name, self.wait_s, is_lost=context.is_disconnect
            )
        if isinstance(found, SQLAlchemyError):
            raise StoreError(f"{self.name}: {original}")

    @contextmanager
    def _connection(self, **options: Any) -> Iterator[Connection]:
        try:
            connection = self.engine.connect()
        except PoolTimeout as error:
            raise StoreLocked(
                f"{self.name}: every connection was in use for more than {self.wait_s:g} s. "
                "Try again."
            ) from error
        with connection, connection.execution_options(**options).begin():
            yield connection

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """A transaction of its own that only reads."""
        options = {"isolation_level": "REPEATABLE READ", "postgresql_readonly": True}
        with self._connection(**({} if self.is_sqlite else options)) as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A transaction of its own; on SQLite it waits at its start until no other writes."""
        with (
            _constraints_explained(self.name),
            self._turn() if self.is_sqlite else nullcontext(),
            self._connection(writes=True) as connection,
        ):
            yield connection

    @contextmanager
    def _turn(self) -> Iterator[None]:
        if not self._writers.acquire(timeout=self.wait_s):
            raise StoreLocked(
                f"{self.name}: other work of this program held the database for more than "
                f"{self.wait_s:g} s. Try again."
            )
        try:
            yield
        finally:
            self._writers.release()

    def erase_deleted(self) -> None:
        """Leave nothing of what was deleted in SQLite's file and log.

        If other programs use the file all the time it stays marked, and the next program that opens
        the store does it; a warning in the log says so.
        """
        if not self.is_sqlite:
            return
        connection = self.engine.raw_connection()
        try:
            raw = cast("sqlite3.Connection", connection.driver_connection)
            with file.translated_errors(self.name, self.wait_s):
                file.erase_deleted(raw, self.name, self.wait_s)
        except StoreLocked as error:
            _LOG.warning(
                "%s Until then, traces of what was deleted stay in the file. They are erased the "
                "next time the store is opened.",
                error,
            )
        finally:
            connection.close()

    def close(self) -> None:
        """Give up every connection."""
        self.engine.dispose()


class BoundDatabase(Database):
    """A database seen through one open transaction, which every `reading` and `writing` joins.

    What fails inside a `writing` undoes what that `writing` did, as a savepoint does; whether the
    rest is committed is for whoever opened the transaction. `must_erase` says whether the file is
    to be written again once it is committed.
    """

    def __init__(self, database: Database, connection: Connection) -> None:
        self.name, self.is_sqlite = database.name, database.is_sqlite
        self.must_erase = False
        self._connection = connection

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """The open transaction's connection, with all that was written in it so far."""
        yield self._connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """A savepoint in the open transaction."""
        with _constraints_explained(self.name):
            savepoint = self._connection.begin_nested()
            try:
                yield self._connection
            except BaseException:
                if self._is_undone():
                    self._give_up()
                else:
                    savepoint.rollback()
                raise
            savepoint.commit()

    def _is_undone(self) -> bool:
        """Whether SQLite itself has undone the whole transaction, as it may on a full disk
        (https://www.sqlite.org/lang_transaction.html, section 3); no savepoint is left then."""
        raw = self._connection.connection.driver_connection
        return isinstance(raw, sqlite3.Connection) and not raw.in_transaction

    def _give_up(self) -> None:
        """End the transaction for SQLAlchemy too, so that nothing is written outside of one."""
        transaction = self._connection.get_transaction()
        if transaction is not None:
            transaction.rollback()

    def erase_deleted(self) -> None:
        """Note that it is to be done once the transaction has ended."""
        self.must_erase = True


def _begin(connection: Connection) -> None:
    """Begin as a writer at once, so that a writer waits its turn instead of failing half-way."""
    writes = connection.get_execution_options().get("writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")


def _sqlite_connection(connection: Connection) -> sqlite3.Connection:
    return cast("sqlite3.Connection", connection.connection.driver_connection)


@contextmanager
def _constraints_explained(name: str) -> Iterator[None]:
    try:
        yield
    except IntegrityError as error:
        said = " ".join(str(error.orig).split())
        raise StoreError(
            f"{name}: nothing was stored: {said}. Was the learner deleted meanwhile?"
        ) from error


def day_stretch(
    connection: Connection, day: Column[Any], since: date, step: int
) -> ColumnElement[int]:
    """Which stretch of `step` days a day is in, counted from `since`: 0, 1, 2..."""
    if connection.dialect.name == "sqlite":
        days = func.julianday(day) - (since.toordinal() + JULIAN_DAY_0)
        return sql_cast(days, Integer) // step
    return sql_cast(day - literal(since), Integer) // step


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
    other that is unique. Rows are written in the order of their keys, so that two programs that
    write the same ones wait for each other in the same order.
    """
    if not rows:
        return
    keys = [column.name for column in table.primary_key if column.name in rows[0]]
    ordered = sorted(rows, key=lambda row: [row[key] for key in keys])
    statement = _insert(connection.dialect.name, table)
    changes = {name: table.c[name] + statement.excluded[name] for name in add}
    changes |= {name: statement.excluded[name] for name in replace}
    if changes:
        statement = statement.on_conflict_do_update(index_elements=table.primary_key, set_=changes)
    else:
        statement = statement.on_conflict_do_nothing()
    connection.execute(statement, ordered)


def _insert(dialect: str, table: Table) -> sqlite.Insert | postgresql.Insert:
    if dialect == "postgresql":
        from sqlalchemy.dialects import postgresql

        return postgresql.insert(table)
    return sqlite.insert(table)
