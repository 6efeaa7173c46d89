from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import JSON, Boolean, Date, DateTime, Integer, MetaData, Table, text
from sqlalchemy.types import TypeEngine

from tests.store.samples import NOW, SKILLS, TEXT, hand_in
from trainer.errors import StoreError, StoreNewer
from trainer.store import FILE_NAME, Store
from trainer.store.address import url_of
from trainer.store.database import EngineDatabase
from trainer.store.migrate import SHIPPED, Migrations, upgrade
from trainer.store.tables import metadata

DATA = Path(__file__).parent / "data"
DUMPS = sorted(DATA.glob("v*.sql"))

NEXT = '''
"""Give learners a colour; on SQLite the table is made anew with what hangs on it.

Revision ID: 9999
"""
import sqlalchemy as sa
from alembic import op

revision = "9999"
down_revision = "{head}"


def upgrade():
    recreate = "always" if op.get_bind().dialect.name == "sqlite" else "never"
    with op.batch_alter_table("learners", recreate=recreate) as batch:
        batch.add_column(sa.Column("colour", sa.Text(), server_default="blue"))
    {then}
'''


@pytest.fixture
def restore(folder: Path) -> Callable[[Path], Path]:
    """Makes a dump into a store's file."""

    def run(dump: Path) -> Path:
        folder.mkdir()
        with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
            connection.executescript(dump.read_text(encoding="utf-8"))
        return folder / FILE_NAME

    return run


@pytest.fixture
def restore_anywhere(
    empty_location: Path | str, restore: Callable[[Path], Path]
) -> Callable[[Path], Path | str]:
    """Makes a dump into a store of either kind; where it is."""

    def run(dump: Path) -> Path | str:
        path = restore(dump)
        if isinstance(empty_location, Path):
            return empty_location
        revisions = SHIPPED.revisions[: DUMPS.index(dump) + 1]
        upgrade(url_of(empty_location), 1, Migrations(SHIPPED.folder, revisions))
        copy_rows(path, empty_location)
        return empty_location

    return run


def copy_rows(path: Path, url: str) -> None:
    """Copy every row of a file into the same tables of a server, and count on from there."""
    database = EngineDatabase(url_of(url), 1)
    found = MetaData()
    with closing(sqlite3.connect(path)) as source, database.writing() as target:
        source.row_factory = sqlite3.Row
        found.reflect(target)
        for table in found.sorted_tables:
            rows = source.execute(f"SELECT * FROM {table.name}").fetchall()
            if table.name != "alembic_version" and rows:
                target.execute(table.insert(), [typed(table, dict(row)) for row in rows])
            if "id" in table.c and isinstance(table.c.id.type, Integer):
                target.execute(
                    text(
                        f"SELECT setval(pg_get_serial_sequence('{table.name}', 'id'), "
                        f"(SELECT max(id) FROM {table.name}))"
                    )
                )
    database.close()


def typed(table: Table, row: dict[str, Any]) -> dict[str, Any]:
    """A row as SQLite keeps it, with the types that PostgreSQL's columns have."""
    readers: dict[type[TypeEngine[Any]], Callable[[Any], Any]] = {
        Boolean: bool,
        JSON: json.loads,
        DateTime: lambda value: datetime.fromisoformat(value).replace(tzinfo=UTC),
        Date: date.fromisoformat,
    }
    for name, value in row.items():
        for kind, read in readers.items():
            if isinstance(table.c[name].type, kind) and value is not None:
                row[name] = read(value)
    return row


@pytest.fixture
def next_version(tmp_path: Path) -> Callable[[str], Migrations]:
    """The migrations of a version to come, whose last one ends with the statement given."""

    def make(then: str) -> Migrations:
        folder = tmp_path / "migrations"
        shutil.copytree(SHIPPED.folder, folder)
        text = NEXT.format(head=SHIPPED.head, then=then)
        (folder / "versions" / "v9999_next.py").write_text(text)
        return Migrations(folder, (*SHIPPED.revisions, "9999"))

    return make


def test_the_revisions_named_are_those_shipped() -> None:
    """The revisions known without Alembic are those in the folder, oldest first."""
    config = Config()
    config.set_main_option("script_location", str(SHIPPED.folder))
    found = [script.revision for script in ScriptDirectory.from_config(config).walk_revisions()]
    assert found[::-1] == list(SHIPPED.revisions)


def assert_as_declared(store: Store) -> None:
    """Alembic finds no difference between the store and the tables declared."""
    with store._database.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_server_default": True})
        assert compare_metadata(context, metadata) == []
        assert context.get_current_revision() == SHIPPED.head


def test_a_fresh_store_is_as_declared(empty_location: Path | str) -> None:
    """What the migrations make of nothing is what the tables say."""
    with Store(empty_location) as store:
        assert_as_declared(store)


def test_a_server_is_brought_up_or_left_as_it_was(
    postgresql_location: str, next_version: Callable[[str], Migrations]
) -> None:
    """A migration on a server is one transaction, too: all of it or nothing."""
    with Store(postgresql_location) as store:
        store.learners.get_or_add("Wren Halloway", NOW)
    with pytest.raises(StoreError, match="Nothing was changed"):
        Store(postgresql_location, migrations=next_version("raise RuntimeError('the power went')"))
    with Store(postgresql_location) as store:
        assert_as_declared(store)


def test_every_revision_has_a_stored_file() -> None:
    """There is a dump for each revision that a user's file may have."""
    assert [dump.stem for dump in DUMPS] == [f"v{n}" for n in range(1, len(SHIPPED.revisions) + 1)]


@pytest.mark.parametrize("dump", DUMPS, ids=[dump.stem for dump in DUMPS])
def test_an_older_store_comes_up_with_all_it_had(
    restore_anywhere: Callable[[Path], Path | str], dump: Path
) -> None:
    """An older store opens as the present tables, its evening in it, ready for more."""
    with Store(restore_anywhere(dump)) as store:
        assert_as_declared(store)
        store.check()
        learners = store.learners.all()
        assert [learner.name for learner in learners] == ["Wren Halloway", "Zoë Ångström"]
        for learner in learners:
            history = store.attempts.history(learner)
            assert [record.token for record in history] == ["t3", "t2", "t1"]
            assert [record.finished_at - NOW for record in history] == [
                timedelta(days=n) for n in (3, 2, 1)
            ]
            detail = store.attempts.get(history[0].id)
            assert detail is not None
            assert detail.answer_text == TEXT
            assert tuple(bar.skills for bar in detail.bars) == SKILLS
            draft = store.drafts.load(learner, detail.exercise)
            assert draft is not None
            assert draft.text == "1 1 ♭7"
            assert len(store.progress.skills(learner)) == 15
            hand_in(store, learner, detail.exercise, NOW + timedelta(days=4))
            assert store.attempts.count(learner) == 4


def test_a_migration_is_preceded_by_a_copy(
    folder: Path, next_version: Callable[[str], Migrations]
) -> None:
    """Before a file is changed a copy with its old revision in the name stands beside it."""
    with Store(folder) as store:
        learner = store.learners.get_or_add("Wren Halloway", NOW)
    with Store(folder, migrations=next_version("")) as store:
        with store._database.reading() as connection:
            found = connection.exec_driver_sql("SELECT name, colour FROM learners").all()
        assert [tuple(row) for row in found] == [("Wren Halloway", "blue")]
    copy = folder / f"trainer-before-{SHIPPED.head}-1.sqlite3"
    assert sorted(path.name for path in folder.iterdir()) == [copy.name, FILE_NAME]
    (folder / "old").mkdir()
    copy.rename(folder / "old" / FILE_NAME)
    with Store(folder / "old") as old:
        assert old.learners.all() == (learner,)
    with pytest.raises(StoreNewer, match="revision '9999'"):
        Store(folder)


def test_making_a_table_anew_keeps_what_hangs_on_it(
    restore: Callable[[Path], Path], next_version: Callable[[str], Migrations]
) -> None:
    """A migration that replaces the learners' table deletes no attempt with it."""
    path = restore(DUMPS[-1])
    with Store(path.parent, migrations=next_version("")) as store:
        with store._database.reading() as connection:
            count = connection.exec_driver_sql("SELECT count(*) FROM attempts").scalar_one()
        assert count == 6
        store.check()


FAULTS = {
    "an exception": "raise RuntimeError('the power went')",
    "bad SQL": "op.execute('DROP TABLE nothing')",
    "rows left hanging": "op.execute('DELETE FROM learners')",
}


@pytest.mark.parametrize("then", FAULTS.values(), ids=FAULTS)
def test_a_migration_that_fails_changes_nothing(
    restore: Callable[[Path], Path], next_version: Callable[[str], Migrations], then: str
) -> None:
    """Whatever goes wrong half-way, the file is as it was and the old program opens it."""
    path = restore(DUMPS[-1])
    with Store(path.parent) as store:
        before = store.transfer.export_json(store.learners.all()[0])
    migrations = next_version(then)
    for number in (1, 2):
        with pytest.raises(StoreError, match=str(FILE_NAME)):
            Store(path.parent, migrations=migrations)
        assert (path.parent / f"trainer-before-{SHIPPED.head}-{number}.sqlite3").exists()
    with Store(path.parent) as store:
        assert_as_declared(store)
        assert store.transfer.export_json(store.learners.all()[0]) == before
