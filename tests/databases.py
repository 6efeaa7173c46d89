"""Fresh databases of both kinds: SQLite in a temporary folder, PostgreSQL on a server of our own.

The server is Debian's (or Homebrew's) PostgreSQL, started when the first test asks for it, on a
Unix socket in a temporary folder alone, and stopped at the end of the session; with pytest-xdist
each worker has one. A fresh database is one that the migrations made once: SQLite's file is copied;
PostgreSQL's is emptied after each test, or dropped if the test changed more than its rows.

All engines of a kind share what SQLAlchemy compiles: a new engine for each test would compile the
same statements each time.

Fixtures
--------
location : where a fresh store is, once for each kind; for `Store(location)`.
sqlite_location, postgresql_location : the same for one kind only.
empty_location : as `location`, with no tables yet.
record : a data folder with an empty SQLite store, for tests of the rooms above.
"""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import IO, Any

import pytest
from sqlalchemy import URL, Engine

from tests.patience import PATIENCE_S, waiting
from trainer.store import FILE_NAME, Store
from trainer.store.database import EngineDatabase

KINDS = ("sqlite", "postgresql")
# How a data folder is named in tests: with what needs care in URLs.
FOLDER = "Töne & 100% ?mode=ro #1"
PLACES = ("/usr/lib/postgresql/*/bin", "/usr/pgsql-*/bin", "/opt/homebrew/opt/postgresql*/bin",
          "/usr/local/opt/postgresql*/bin")  # fmt: skip
LACKING = (
    "PostgreSQL's server is not installed, and the store is tested on it. To install it: "
    "scripts/setup --tools (Debian: apt-get install postgresql; macOS: brew install postgresql)"
)
# The superuser within the server: not a user of this machine.
OWNER = "trainer"
SETTINGS = {
    "listen_addresses": "",
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
    "shared_buffers": "16MB",
    "max_connections": "60",
    "autovacuum": "off",
    "jit": "off",
    "wal_level": "minimal",
    "max_wal_senders": "0",
    "deadlock_timeout": "50ms",
}
# As a server is set up that must not lose what it has confirmed.
SAFE_SETTINGS = SETTINGS | {
    "fsync": "on",
    "synchronous_commit": "on",
    "full_page_writes": "on",
    "shared_buffers": "256MB",
    "autovacuum": "on",
}

TABLES = (
    "SELECT tablename FROM pg_tables WHERE schemaname = 'public' AND tablename <> 'alembic_version'"
)
# Read from the catalog itself; the views of information_schema are slow.
SHAPE = """
    SELECT relname, attname, format_type(atttypid, atttypmod), attnotnull
    FROM pg_attribute JOIN pg_class ON pg_class.oid = attrelid
    WHERE relnamespace = 'public'::regnamespace AND relkind = 'r' AND attnum > 0
    AND NOT attisdropped
    UNION ALL SELECT 'revision', version_num, '', false FROM alembic_version ORDER BY 1, 2
"""
NUMBER_ANEW = "SELECT setval(oid::regclass, 1, false) FROM pg_class WHERE relkind = 'S'"
END_OTHERS = (
    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
    "WHERE datname = current_database() AND pid <> pg_backend_pid()"
)


@dataclass(frozen=True, slots=True)
class Server:
    """A running server, its socket in `folder`; `begin` makes its process, which tells a log, and
    the last of `processes` is the one that runs."""

    folder: Path
    numbers: Iterator[int]
    begin: Callable[[IO[bytes]], subprocess.Popen[bytes]]
    processes: list[subprocess.Popen[bytes]]

    def start(self) -> None:
        """Start it, and wait until it answers."""
        with (self.folder / "log").open("ab") as log:
            process = self.begin(log)
        self.processes.append(process)
        _wait_until_up(process, self)

    def end(self) -> None:
        """Shut it down at once, as if the power went: what it needs is in its log."""
        if self.processes:
            process = self.processes.pop()
            process.send_signal(signal.SIGQUIT)
            process.wait(timeout=PATIENCE_S)

    def url(self, name: str) -> str:
        """The URL of the database of that name."""
        return f"postgresql:///{name}?host={self.folder}&user={OWNER}"

    def connect(self, name: str = "postgres") -> Any:
        """A connection of psycopg's whose statements stand in no transaction."""
        import psycopg

        return psycopg.connect(host=str(self.folder), user=OWNER, dbname=name, autocommit=True)

    def run(self, statement: str) -> None:
        """Run a statement."""
        with self.connect() as connection:
            connection.execute(statement)

    def make(self, template: str = "template0") -> str:
        """The name of a new database, a copy of the template."""
        name = f"test_{next(self.numbers)}"
        self.run(f"CREATE DATABASE {name} TEMPLATE {template}")
        return name

    def drop(self, name: str) -> None:
        """Drop a database, whoever uses it."""
        self.run(f"DROP DATABASE {name} WITH (FORCE)")

    def empty(self, name: str, shape: list[Any]) -> bool:
        """Delete every row but the revision, and number rows from 1 again; whether that made it as
        new, which it does not if the shape is another one."""
        with self.connect(name) as connection:
            if read_shape(connection) != shape:
                return False
            connection.execute(END_OTHERS)
            tables = connection.execute(TABLES).fetchall()
            # Without foreign keys, which are triggers, the tables' order does not matter.
            statements = ["SET session_replication_role = replica"]
            statements += [f"DELETE FROM {table}" for (table,) in tables]
            connection.execute(";".join([*statements, NUMBER_ANEW]))
            return True


def read_shape(connection: Any) -> list[Any]:
    """What tells a database that was changed by more than its rows: columns and revision."""
    found: list[Any] = connection.execute(SHAPE).fetchall()
    return found


def find_programs() -> Path | None:
    """The folder with PostgreSQL's `initdb` and `postgres`; the newest of several."""
    found = shutil.which("postgres")
    if found and shutil.which("initdb"):
        return Path(found).parent
    folders = [p for place in PLACES for p in Path("/").glob(place.lstrip("/"))]
    usable = [folder for folder in folders if (folder / "initdb").exists()]
    return max(usable, key=_version, default=None)


def _version(folder: Path) -> int:
    digits = "".join(c for c in folder.parent.name if c.isdigit())
    return int(digits or 0)


def _unprivileged() -> pwd.struct_passwd | None:
    """Whom the server runs as where the tests are root, which PostgreSQL refuses."""
    if os.geteuid() != 0:
        return None
    for name in ("postgres", "nobody"):
        try:
            return pwd.getpwnam(name)
        except KeyError:
            continue
    raise LookupError("found neither a user postgres nor nobody to run PostgreSQL as")


@contextmanager
def running_server(programs: Path, settings: Mapping[str, str] = SETTINGS) -> Iterator[Server]:
    """A new server; its folder is short, as a socket's path must be."""
    folder = Path(tempfile.mkdtemp(prefix="pg-", dir="/tmp"))
    user = _unprivileged()
    identity: dict[str, Any] = {"cwd": folder}
    if user is not None:
        os.chown(folder, user.pw_uid, user.pw_gid)
        identity |= {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}
    try:
        data = folder / "data"
        made = subprocess.run(
            [programs / "initdb", "-D", data, "-U", OWNER, "--auth=trust", "--no-sync",
             "--encoding=UTF8", "--locale=C"],
            capture_output=True, text=True, check=False, **identity,
        )  # fmt: skip
        assert made.returncode == 0, made.stderr
        options = [f"--{name}={value}" for name, value in settings.items()]
        postgres = str(programs / "postgres")
        line = [*_until_parent_ends(), postgres, "-D", str(data), "-k", str(folder), *options]

        def begin(log: IO[bytes]) -> subprocess.Popen[bytes]:
            return subprocess.Popen(line, stdout=log, stderr=subprocess.STDOUT, **identity)

        server = Server(folder, count(1), begin, [])
        try:
            server.start()
            yield server
        finally:
            server.end()
    finally:
        shutil.rmtree(folder)


def _until_parent_ends() -> list[str]:
    """A prefix that ends the server when the tests are killed, if there is one."""
    setpriv = shutil.which("setpriv")
    return [setpriv, "--pdeathsig", "QUIT", "--"] if setpriv else []


def _wait_until_up(process: subprocess.Popen[bytes], server: Server) -> None:
    import psycopg

    for _ in waiting("PostgreSQL answers"):
        try:
            server.connect().close()
            return
        except psycopg.OperationalError:
            with suppress(subprocess.TimeoutExpired):
                process.wait(timeout=0.02)
                break
    pytest.fail(f"PostgreSQL did not start: {(server.folder / 'log').read_text()}")


@pytest.fixture(scope="session", autouse=True)
def shared_statements() -> Iterator[None]:
    """Every engine of a kind finds the statements that another one of its kind has compiled.

    SQLAlchemy keeps them by dialect, so that two dialects of a class must be taken for the same.
    Ours differ in nothing that a compiled statement depends on.
    """
    caches: dict[type, Any] = {}
    make_engine = EngineDatabase._make_engine

    def make(self: EngineDatabase, url: URL, migrating: bool) -> Engine:
        engine = make_engine(self, url, migrating)
        kind = type(engine.dialect)
        if kind not in caches:
            caches[kind] = engine._compiled_cache
            patch.setattr(kind, "__eq__", lambda one, other: type(one) is type(other))
            patch.setattr(kind, "__hash__", lambda one: hash(type(one)))
        engine._compiled_cache = caches[kind]
        return engine

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(EngineDatabase, "_make_engine", make)
        yield


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[Server]:
    """The server of this session; where none is installed tests say so, and fail in CI."""
    programs = find_programs()
    if programs is None:
        if os.environ.get("CI"):
            pytest.fail(LACKING)
        pytest.skip(LACKING)
    with running_server(programs) as server:
        yield server


@pytest.fixture(scope="session")
def postgresql_template(postgresql_server: Server) -> tuple[str, list[Any]]:
    """The name of a database with the present tables and nothing in them, and its shape."""
    name = postgresql_server.make()
    Store(postgresql_server.url(name)).close()
    with postgresql_server.connect(name) as connection:
        return name, read_shape(connection)


@pytest.fixture(scope="session")
def postgresql_spares() -> list[str]:
    """The names of databases that are as the template is, for the next test."""
    return []


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file with the present tables and nothing in them."""
    folder = tmp_path_factory.mktemp("template")
    Store(folder).close()
    return folder / FILE_NAME


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A data folder that does not exist yet."""
    return tmp_path / FOLDER


def put_store(template: Path, folder: Path) -> Path:
    """Make a data folder with a copy of a store's file in it."""
    folder.mkdir(mode=0o700)
    shutil.copy2(template, folder / FILE_NAME)
    return folder


@pytest.fixture
def sqlite_location(folder: Path, sqlite_template: Path) -> Path:
    """The folder of a fresh store."""
    return put_store(sqlite_template, folder)


@pytest.fixture
def record(tmp_path: Path, sqlite_template: Path) -> Path:
    """The data folder `record`, with a fresh store in it."""
    return put_store(sqlite_template, tmp_path / "record")


@pytest.fixture
def postgresql_location(
    postgresql_server: Server,
    postgresql_template: tuple[str, list[Any]],
    postgresql_spares: list[str],
) -> Iterator[str]:
    """The URL of a fresh store."""
    server, (template, shape) = postgresql_server, postgresql_template
    name = postgresql_spares.pop() if postgresql_spares else server.make(template)
    yield server.url(name)
    if server.empty(name, shape):
        postgresql_spares.append(name)
    else:
        server.drop(name)


@pytest.fixture
def postgresql_empty(postgresql_server: Server) -> Iterator[str]:
    """The URL of a database without tables."""
    name = postgresql_server.make()
    yield postgresql_server.url(name)
    postgresql_server.drop(name)


@pytest.fixture(params=KINDS)
def location(request: pytest.FixtureRequest) -> Path | str:
    """Where a fresh store is, once for each kind of database."""
    found: Path | str = request.getfixturevalue(f"{request.param}_location")
    return found


@pytest.fixture(params=KINDS)
def empty_location(request: pytest.FixtureRequest) -> Path | str:
    """Where there are no tables yet, once for each kind of database."""
    name = {"sqlite": "folder", "postgresql": "postgresql_empty"}[request.param]
    found: Path | str = request.getfixturevalue(name)
    return found
