from __future__ import annotations

import json
import shutil
import sqlite3
import uuid
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

from tests.store.samples import NOW, TEXT, check_store, exercise, hand_in
from trainer.drill import bring_ratings_up, passed_levels, rating_state
from trainer.errors import StoreError, StoreNewer
from trainer.exercise import FIRST_IDS, song_digest
from trainer.store import FILE_NAME, Learner, Store
from trainer.store.address import url_of
from trainer.store.database import EngineDatabase
from trainer.store.migrate import SHIPPED, Migrations, upgrade
from trainer.store.tables import metadata

DATA = Path(__file__).parent / "data"
DUMPS = sorted(DATA.glob("v*.sql"), key=lambda dump: int(dump.stem[1:]))

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
        check_store(store)
        learners = store.learners.all()
        assert [learner.name for learner in learners] == ["Wren Halloway", "Zoë Ångström"]
        assert len({uuid.UUID(learner.uid) for learner in learners}) == 2
        # Learners who practised with an older version were shown the caution before the first
        # sound.
        assert {learner.caution_at for learner in learners} == {NOW}
        for learner in learners:
            assert_evening(store, learner)
            assert_open(store, learner, dump.stem)
            assert_ready(store, learner)


def assert_evening(store: Store, learner: Learner) -> None:
    """The learner has three attempts, each at a copy of an exercise that is theirs."""
    history = store.attempts.history(learner)
    assert [record.token for record in history] == ["t3", "t2", "t1"]
    assert [record.finished_at - NOW for record in history] == [
        timedelta(days=n) for n in (3, 2, 1)
    ]
    assert not any(record.seen for record in history)
    assert [record.passed for record in history] == [False] * 3
    assert set(store.attempts.best_by_level(learner)) == set(FIRST_IDS[:3])
    for each in store.attempts.log(learner):
        kept = each.exercise
        assert kept.owner_id == learner.id
        assert kept.key == each.record.exercise_id
        assert kept.song == song_digest(kept.exercise)
        assert store.exercises.get(learner, kept.key) == kept
        assert [bar.played for bar in each.bars] == [("1",), ("1", "5/7"), ("6-",), ("4",)]
        assert [bar.written for bar in each.bars] == [("1",), ("1",), ("6-",), ("2-",)]
        assert [bar.confusions for bar in each.bars] == [(), (("5/7", "1"),), (), (("4", "2-"),)]
        assert each.bars[1].skills[:3] != ()
        assert [bar.lag_beats for bar in each.bars] == [1.0, None, 3.0, None]
        detail = store.attempts.get(each.record.id)
        assert detail is not None
        assert detail.answer_text == TEXT
        assert [bar["score"] for bar in detail.report["bars"]] == [bar.score for bar in each.bars]
    days = {day.skill: day.bars for day in store.progress.skills(learner)}
    assert (days["chord 1"], days["chord 4"], days["even split"]) == (2, 1, 1)
    assert len(store.progress.days(learner)) == 3


def assert_open(store: Store, learner: Learner, version: str) -> None:
    """What was typed at the third song is there, with what was known of its listens."""
    ((kept, drill),) = store.open_drills.all(learner)
    assert (kept.key, kept.owner_id) == ("millrace-3", learner.id)
    assert (drill.text, drill.text_at, drill.started_at) == ("1 1 ♭7", NOW, NOW)
    assert drill.token
    assert drill.speeds == (() if version in ("v1", "v2") else (80,))
    assert drill.position_s == (None if version in ("v1", "v2", "v3") else 4.5)
    is_unknown = version in ("v1", "v2", "v3", "v4")
    assert drill.first_listen_at == (None if is_unknown else NOW)
    assert not drill.paused
    runs = [run.answers for run in store.lesson_runs.all(learner)]
    had_none = version in ("v1", "v2", "v3", "v4", "v5", "v6", "v7")
    assert runs == ([] if had_none else [(("5/7", "5/7"), ("5", "5/7"))])


def assert_ready(store: Store, learner: Learner) -> None:
    """More can be stored: an attempt at a song that is there, and one at a new song."""
    kept = store.exercises.get(learner, "millrace-3")
    assert kept is not None
    assert store.attempts.has_seen(learner, kept.song, NOW)
    hand_in(store, learner, kept, NOW + timedelta(days=4), token="t4")
    new = store.exercises.keep(learner, exercise(4))
    hand_in(store, learner, new, NOW + timedelta(days=5), token="t5")
    assert store.attempts.count(learner) == 5


def loaded(folder: Path, dump: Path, *changes: str) -> Store:
    """The store of a dump that was changed by these statements before it is brought up."""
    folder.mkdir(parents=True)
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection, connection:
        connection.executescript(dump.read_text(encoding="utf-8"))
        for change in changes:
            connection.execute(change)
    return Store(folder)


@pytest.mark.parametrize("dump", DUMPS[:3], ids=[dump.stem for dump in DUMPS[:3]])
def test_bringing_up_writes_what_a_fresh_store_would(folder: Path, dump: Path) -> None:
    """Chords, skills and charts of an older file stand as text in the shape of today's."""
    read = "SELECT played, written, confusions, skills FROM bar_results WHERE attempt_id = 1"
    with loaded(folder, dump) as store, store._database.reading() as connection:
        rows = connection.exec_driver_sql(read + " ORDER BY position").all()
    assert [row[:3] for row in rows] == [
        ('["1"]', '["1"]', "[]"),
        ('["1","5/7"]', '["1"]', '[["5/7","1"]]'),
        ('["6-"]', '["6-"]', "[]"),
        ('["4"]', '["2-"]', '[["4","2-"]]'),
    ]


def test_a_bar_without_chords_comes_up_empty(folder: Path) -> None:
    """A bar that was left out, stored as an empty text, has no chords."""
    change = "UPDATE bar_results SET written = '', answer = NULL WHERE position = 2"
    with loaded(folder, DUMPS[0], change) as store:
        (first, *_) = store.attempts.log(store.learners.all()[0])
        assert first.bars[1].written == ()


def test_a_home_shift_of_an_older_file_is_found(folder: Path) -> None:
    """Bringing a file up reads from its reports which attempts were counted from elsewhere."""
    change = (
        "UPDATE papers SET report = json_set(report, '$.home_shift', "
        'json(\'{"kind": "relative major"}\')) WHERE attempt_id = 1'
    )
    with loaded(folder, DUMPS[0], change) as store:
        kinds = [a.home_shift for who in store.learners.all() for a in store.attempts.history(who)]
    assert sorted(map(str, kinds)) == ["None"] * 5 + ["relative major"]


def test_a_file_of_an_older_version_has_ratings_at_once(folder: Path) -> None:
    """Attempts made before there were ratings count as soon as they are looked at."""
    with loaded(folder, DUMPS[0]) as store:
        for learner in store.learners.all():
            assert rating_state(store, learner).attempts == 3
            assert bring_ratings_up(store, learner)
            assert len({day.day for day in store.ratings.days(learner)}) == 3


def test_attempts_on_record_keep_what_they_passed(folder: Path) -> None:
    """An attempt of before passes were stored passed at the mark of its level, if it counted."""
    changes = (
        "UPDATE attempts SET score = 0.85 WHERE level = 1",
        "UPDATE attempts SET score = 0.84 WHERE level = 2",
        "UPDATE attempts SET level = 13, score = 0.8 WHERE level = 3",
        "UPDATE attempts SET seen = 1 WHERE learner_id = 2 AND level = 13",
        "UPDATE attempts SET listens = 0 WHERE learner_id = 2 AND level = 1",
    )
    with loaded(folder, DUMPS[4], *changes) as store:
        wren, zoe = store.learners.all()
        passed = [
            {record.level: record.passed for record in store.attempts.history(who)}
            for who in (wren, zoe)
        ]
        assert passed == [{1: True, 2: False, 13: True}, {1: False, 2: False, 13: False}]
        assert passed_levels(store.attempts.best_by_level(wren)) == {"home-four-five", "shuffle"}


@pytest.mark.parametrize("dump", DUMPS[:8], ids=[dump.stem for dump in DUMPS[:8]])
def test_results_from_before_levels_had_ids_say_what_they_were(
    restore_anywhere: Callable[[Path], Path | str], dump: Path
) -> None:
    """Attempts and exercises keep their number and get the id that this level had in the course of
    31 levels, whatever number that level has today."""
    with Store(restore_anywhere(dump)) as store:
        for learner in store.learners.all():
            history = store.attempts.history(learner)
            levels = [(record.level, record.level_id) for record in history]
            assert levels == [(3, "two-minor"), (2, "six-minor"), (1, "home-four-five")]
            for each in store.attempts.log(learner):
                exercise = each.exercise.exercise
                assert (exercise.level, exercise.level_id) == (
                    each.record.level,
                    each.record.level_id,
                )
            assert store.attempts.count(learner, "six-minor") == 1


def test_every_level_of_the_first_course_is_filled_in(folder: Path) -> None:
    """Each number from 1 to 31 gets its own id, and one the course never had gets none."""
    change = "UPDATE attempts SET level = {} WHERE id = 1"
    for number, level_id in [*enumerate(FIRST_IDS, 1), (32, None)]:
        with loaded(folder / str(number), DUMPS[7], change.format(number)) as store:
            (attempt,) = (
                record
                for who in store.learners.all()
                for record in store.attempts.history(who)
                if record.id == 1
            )
            assert (attempt.level, attempt.level_id) == (number, level_id)


def test_an_exercise_nobody_met_is_dropped(folder: Path) -> None:
    """An exercise that has no owner to be given to goes; a set's item keeps its own."""
    add = (
        "INSERT INTO exercises SELECT '{}', level, origin, title, "
        "replace(data, 'millrace-1', '{}') FROM exercises WHERE id = 'millrace-1'"
    )
    item = (
        "INSERT INTO set_items VALUES (1, 2, '2026-03-02', 1, 1, 'mixed', '[]', 'All of it.', "
        "'open', 'given', 0.8, 2.0, '2026-03-02 19:30:00.000000')"
    )
    changes = (add.format("alone", "alone"), add.format("given", "given"), item)
    with loaded(folder, DUMPS[2], *changes) as store:
        wren, zoe = store.learners.all()
        assert store.exercises.get(wren, "given") is None
        given = store.exercises.get(zoe, "given")
        assert given is not None
        assert [each.exercise_id for each in store.sets.of_day(zoe, NOW.date())] == ["given"]
        assert store.exercises.get(zoe, "alone") is None
        store.learners.delete(zoe)
        check_store(store)
        assert store.exercises.get(wren, "millrace-1") is not None


def test_a_seat_without_a_draft_comes_up(folder: Path) -> None:
    """Who had listened and typed nothing yet keeps the listens."""
    with loaded(folder, DUMPS[2], "DELETE FROM drafts") as store:
        for learner in store.learners.all():
            ((_, drill),) = store.open_drills.all(learner)
            assert (drill.speeds, drill.text, drill.text_at) == ((80,), "", None)


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
        check_store(store)


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
