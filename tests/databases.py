"""Fresh databases of both kinds: SQLite in a temporary folder, PostgreSQL on a server of our own.

The server is Debian's (or Homebrew's) PostgreSQL, started when the first test asks for it, on a
Unix socket in a temporary folder alone, and stopped at the end of the session; with pytest-xdist
each worker has one. A fresh database is a copy of a template that the migrations made once.

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
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from trainer.store import FILE_NAME, Store

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
    "deadlock_timeout": "50ms",
}


@dataclass(frozen=True, slots=True)
class Server:
    """A running server, its socket in `folder`."""

    folder: Path
    numbers: Iterator[int]

    def url(self, name: str) -> str:
        """The URL of the database of that name."""
        return f"postgresql:///{name}?host={self.folder}&user={OWNER}"

    def run(self, statement: str) -> None:
        """Run a statement that stands in no transaction."""
        import psycopg

        with psycopg.connect(
            host=str(self.folder), user=OWNER, dbname="postgres", autocommit=True
        ) as connection:
            connection.execute(statement.encode())

    @contextmanager
    def database(self, template: str = "template0") -> Iterator[str]:
        """The URL of a new database, which is dropped at the end."""
        name = f"test_{next(self.numbers)}"
        self.run(f"CREATE DATABASE {name} TEMPLATE {template}")
        try:
            yield self.url(name)
        finally:
            self.run(f"DROP DATABASE {name} WITH (FORCE)")


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
def running_server(programs: Path) -> Iterator[Server]:
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
        options = [f"--{name}={value}" for name, value in SETTINGS.items()]
        with (folder / "log").open("wb") as log:
            server = subprocess.Popen(
                [*_until_parent_ends(), programs / "postgres", "-D", data, "-k", folder, *options],
                stdout=log,
                stderr=subprocess.STDOUT,
                **identity,
            )
        try:
            _wait_until_up(server, folder)
            yield Server(folder, count(1))
        finally:
            # An immediate shutdown: nothing is to be kept.
            server.send_signal(signal.SIGQUIT)
            server.wait(timeout=30)
    finally:
        shutil.rmtree(folder)


def _until_parent_ends() -> list[str]:
    """A prefix that ends the server when the tests are killed, where there is one."""
    setpriv = shutil.which("setpriv")
    return [setpriv, "--pdeathsig", "QUIT", "--"] if setpriv else []


def _wait_until_up(server: subprocess.Popen[bytes], folder: Path) -> None:
    import psycopg

    for _ in range(3000):
        try:
            psycopg.connect(host=str(folder), user=OWNER, dbname="postgres").close()
            return
        except psycopg.OperationalError:
            with suppress(subprocess.TimeoutExpired):
                server.wait(timeout=0.02)
                break
    pytest.fail(f"PostgreSQL did not start: {(folder / 'log').read_text()}")


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
def postgresql_template(postgresql_server: Server) -> str:
    """The name of a database with the present tables and nothing in them."""
    postgresql_server.run("CREATE DATABASE prepared TEMPLATE template0")
    Store(postgresql_server.url("prepared")).close()
    return "prepared"


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
def postgresql_location(postgresql_server: Server, postgresql_template: str) -> Iterator[str]:
    """The URL of a fresh store."""
    with postgresql_server.database(postgresql_template) as url:
        yield url


@pytest.fixture
def postgresql_empty(postgresql_server: Server) -> Iterator[str]:
    """The URL of a database without tables."""
    with postgresql_server.database() as url:
        yield url


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
