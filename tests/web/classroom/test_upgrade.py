"""A new version while learners work, and the whole record kept and brought back."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

from tests.databases import Server, find_programs
from tests.patience import PATIENCE_S
from tests.web.classroom.at_work import (
    COLD,
    assert_all_kept,
    found_class,
    start,
    work_through,
)
from trainer.store import Store
from trainer.store.migrate import SHIPPED, Migrations

NEXT = """
import sqlalchemy as sa
from alembic import op

revision, down_revision = "9999", "{head}"


def upgrade():
    op.add_column("attempts", sa.Column("later", sa.Integer()))
    op.add_column("drills", sa.Column("later", sa.Integer()))
    op.create_table("later", sa.Column("id", sa.Integer(), primary_key=True))
"""
ROOT = Path(__file__).parents[3]


def next_version(folder: Path) -> tuple[Migrations, str]:
    """The migrations of a version to come, and a program that has them."""
    shutil.copytree(SHIPPED.folder, folder)
    (folder / "versions" / "v9999_next.py").write_text(NEXT.format(head=SHIPPED.head))
    program = f"""
from pathlib import Path
from trainer.store import Store
from trainer.store.migrate import SHIPPED, Migrations
newer = Migrations(Path({str(folder)!r}), (*SHIPPED.revisions, "9999"))
Store.__init__.__kwdefaults__["migrations"] = newer
{COLD}
"""
    return Migrations(folder, (*SHIPPED.revisions, "9999")), program


def test_a_new_version_takes_over(location: Path | str, tmp_path: Path) -> None:
    """A new version brings the record up while the old one serves, which goes on until it is
    stopped; then the new one serves in its place. Learners notice nothing but a pause."""
    item_uid, chart = found_class(location)
    migrations, program = next_version(tmp_path / "migrations")
    home = tmp_path / "home"
    servers = [start(location, home)]

    def fault() -> None:
        servers.append(start(location, home, program=program))
        assert servers[0].process.poll() is None
        assert servers[0].stop() == 0
        servers.append(start(location, home, servers[0].port, program))

    try:
        measured = work_through(servers[0], item_uid, chart, fault)
    finally:
        for server in servers[1:]:
            server.kill()
    assert_all_kept(location, measured, migrations)


def client_program(name: str) -> str:
    """Where one of PostgreSQL's own programs is: on the path, or beside its server."""
    programs = find_programs()
    assert programs is not None
    found = shutil.which(name) or shutil.which(name, path=programs)
    assert found is not None, f"{name} is not installed"
    return found


def test_a_database_is_kept_and_brought_back(
    postgresql_server: Server, postgresql_location: str, tmp_path: Path
) -> None:
    """What `pg_dump` writes while people hand in has all that was confirmed before, and
    `pg_restore` makes a record of it that works."""
    pg_dump, pg_restore = (client_program(name) for name in ("pg_dump", "pg_restore"))
    line = [sys.executable, "-m", "tests.store.child", postgresql_location, "1"]
    child = subprocess.Popen(line, cwd=ROOT, stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    try:
        confirmed = {child.stdout.readline().strip() for _ in range(5)}
        dump = tmp_path / "record.dump"
        options = ["-h", str(postgresql_server.folder), "-U", "trainer"]
        name = postgresql_location.partition("///")[2].partition("?")[0]
        run = [pg_dump, *options, "-Fc", "-f", str(dump), name]
        subprocess.run(run, check=True, timeout=PATIENCE_S)
        child.stdout.readline()
    finally:
        child.kill()
        child.communicate()
    new = postgresql_server.make()
    restore = [pg_restore, *options, "--no-owner", "-d", new, str(dump)]
    subprocess.run(restore, check=True, timeout=PATIENCE_S)
    with Store(postgresql_server.url(new)) as store:
        (learner,) = store.learners.all()
        kept = {attempt.token for attempt in store.attempts.history(learner, limit=1000)}
    assert confirmed <= kept
    postgresql_server.drop(new)
