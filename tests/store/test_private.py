"""Who may read a store's files, and what is left in them of a learner who was deleted."""

from __future__ import annotations

import logging
import os
import random
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import Column, Index, MetaData, Table, Text, delete, insert, select

from tests.store.samples import NOW, check_store, exercise, hand_in
from trainer.store import FILE_NAME, OpenDrill, Store, default_data_folder
from trainer.store.address import url_of
from trainer.store.database import EngineDatabase
from trainer.store.files import ABANDONED_AFTER_S
from trainer.store.migrate import SHIPPED
from trainer.store.sqlite import inspect_file


@pytest.fixture(autouse=True)
def _usual_mask() -> Iterator[None]:
    """A mask that lets everybody read what is made without a thought, as it is by default."""
    before = os.umask(0o022)
    yield
    os.umask(before)


def modes(folder: Path) -> dict[str, int]:
    """What a folder ("."), and each file in it, allows to whom."""
    found = {path.name: stat.S_IMODE(path.stat().st_mode) for path in folder.iterdir()}
    return found | {".": stat.S_IMODE(folder.stat().st_mode)}


def test_new_files_are_their_owners_alone(folder: Path, tmp_path: Path) -> None:
    """Store, log, index, backup and folder are made 0600 and 0700, whatever the mask."""
    with Store(folder) as store:
        store.learners.get_or_add("Wren Halloway", NOW)
        store.backup(folder / "backup")
        names = (FILE_NAME, f"{FILE_NAME}-wal", f"{FILE_NAME}-shm", "backup")
        assert modes(folder) == dict.fromkeys(names, 0o600) | {".": 0o700}
    Store.restore(folder / "backup", tmp_path / "deep" / "place")
    assert modes(tmp_path / "deep" / "place") == {FILE_NAME: 0o600, ".": 0o700}


def test_a_folder_above_is_made_as_usual(tmp_path: Path) -> None:
    """Only the data folder itself is closed; who else has folders above it is not our business."""
    Store(tmp_path / "shared" / "mine").close()
    assert stat.S_IMODE((tmp_path / "shared").stat().st_mode) == 0o755


def test_looser_files_are_closed_at_opening(sqlite_location: Path) -> None:
    """What an older version left open to others is closed when the store is next opened."""
    folder = sqlite_location
    with Store(folder) as store:
        store.learners.get_or_add("Wren Halloway", NOW)
        copy = folder / f"trainer-before-{SHIPPED.head}-1.sqlite3"
        copy.write_bytes(b"")
        for path in folder.iterdir():
            path.chmod(0o644)
        folder.chmod(0o755)
        with Store(folder):
            assert set(modes(folder).values()) == {0o600, 0o700}
            assert len(modes(folder)) == 5


def test_a_folder_of_other_things_stays_as_it_is(sqlite_location: Path) -> None:
    """A store put among somebody's other files does not lock others out of those."""
    (sqlite_location / "holiday.jpg").touch()
    sqlite_location.chmod(0o755)
    with Store(sqlite_location) as store:
        check_store(store)
    assert modes(sqlite_location) == {".": 0o755, "holiday.jpg": 0o644, FILE_NAME: 0o600}


def test_a_folder_shared_by_all_stays_as_it_is(tmp_path: Path) -> None:
    """An empty folder for everybody (the sticky bit, as /tmp has it) is not taken over."""
    (tmp_path / "drop").mkdir()
    (tmp_path / "drop").chmod(0o1777)
    Store(tmp_path / "drop").close()
    assert modes(tmp_path / "drop") == {".": 0o1777, FILE_NAME: 0o600}


def test_the_usual_folder_is_closed_whatever_is_in_it(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """The platform's folder for the trainer is the trainer's."""
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    folder = default_data_folder()
    folder.mkdir(parents=True)
    (folder / "note.txt").touch()
    Store.open().close()
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700


def test_anothers_files_are_told_and_used(
    sqlite_location: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Rights that cannot be changed are a warning with the remedy, and the store opens."""
    (sqlite_location / FILE_NAME).chmod(0o666)

    def refuse(path: Path, mode: int) -> None:
        raise PermissionError(1, "Operation not permitted", str(path))

    monkeypatch.setattr(Path, "chmod", refuse)
    with caplog.at_level(logging.WARNING), Store(sqlite_location) as store:
        check_store(store)
    assert "chmod go-rwx" in caplog.text
    assert str(sqlite_location / FILE_NAME) in caplog.text


def test_what_a_killed_program_left_is_removed(folder: Path) -> None:
    """A half-made file goes when it is old; one that may still be in the making stays."""
    folder.mkdir()
    for name, age in (("old", 2 * ABANDONED_AFTER_S), ("young", 0)):
        path = folder / f"{FILE_NAME}-{name}.new"
        path.write_bytes(b"half of it")
        moment = path.stat().st_mtime - age
        os.utime(path, (moment, moment))
    Store(folder).close()
    assert sorted(path.name for path in folder.iterdir()) == [
        FILE_NAME,
        f"{FILE_NAME}-young.new",
    ]


NOTES = Table(
    "notes",
    MetaData(),
    Column("key", Text, primary_key=True),
    Column("owner", Text, nullable=False),
    Column("words", Text),
    Index(None, "owner", "words"),
    sqlite_with_rowid=False,
)


@pytest.fixture
def database(sqlite_location: Path, rng: random.Random) -> Iterator[EngineDatabase]:
    """Notes of two owners, short and long, written by turns, as over months.

    Rows move between pages meanwhile, so that SQLite's secure_delete alone leaves some behind.
    """
    found = EngineDatabase(url_of(sqlite_location), 0.1)
    rows = [
        {
            "key": str(rng.random()) * rng.randint(1, 30),
            "owner": owner,
            "words": f"{owner} {number} " * rng.choice([1, 3, 10, 50, 300]),
        }
        for number in range(300)
        for owner in ("wren", "zebedee")
    ]
    with found.writing() as connection:
        NOTES.create(connection)
        for row in rows:
            connection.execute(insert(NOTES).values(row))
    yield found
    found.close()


def traces(folder: Path, word: str) -> list[str]:
    """The files of a folder in which a word can be found."""
    return [path.name for path in folder.iterdir() if word.encode() in path.read_bytes()]


def delete_notes(database: EngineDatabase) -> None:
    """Erase what Zebedee wrote."""
    with database.erasing() as connection:
        connection.execute(delete(NOTES).where(NOTES.c.owner == "zebedee"))


def test_nothing_is_left_of_what_is_erased(database: EngineDatabase, sqlite_location: Path) -> None:
    """Not in the file, nor in its log, nor in free pages; what others wrote stays."""
    assert traces(sqlite_location, "zebedee")
    delete_notes(database)
    assert traces(sqlite_location, "zebedee") == []
    assert traces(sqlite_location, "wren 100") == [FILE_NAME]
    with database.reading() as connection:
        assert len(connection.execute(select(NOTES)).all()) == 300
    assert not inspect_file(sqlite_location / FILE_NAME, 1).must_erase


def test_erasing_within_a_transaction_follows_its_end(
    database: EngineDatabase, sqlite_location: Path
) -> None:
    """Several writes in one transaction, one of them an erasure, leave nothing either."""
    with database.bound() as bound:
        with bound.erasing() as connection:
            connection.execute(delete(NOTES).where(NOTES.c.owner == "zebedee"))
        assert traces(sqlite_location, "zebedee")
    assert traces(sqlite_location, "zebedee") == []


def test_erasing_is_made_up_for_at_the_next_start(
    database: EngineDatabase, sqlite_location: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """Where another program reads all the while it is deleted, and erased when next opened."""
    with closing(sqlite3.connect(sqlite_location / FILE_NAME, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        reader.execute("SELECT count(*) FROM notes").fetchone()
        with caplog.at_level(logging.WARNING):
            delete_notes(database)
        assert "the next time the store is opened" in caplog.text
    assert traces(sqlite_location, "zebedee")
    database.close()
    assert inspect_file(sqlite_location / FILE_NAME, 1).must_erase
    Store(sqlite_location).close()
    assert traces(sqlite_location, "zebedee") == []
    assert not inspect_file(sqlite_location / FILE_NAME, 1).must_erase


def test_deleting_a_learner_erases(sqlite_location: Path) -> None:
    """Name, attempts, exercises and what is being written of a learner who is deleted are in no
    file any more, while the store is still open.
    """
    marks = ("Zebedee Marlow", "zebedee-token", "zebedee-drill", "zebedee's text", "millrace-777")
    with Store(sqlite_location) as store:
        wren = store.learners.get_or_add("Wren Halloway", NOW)
        leaving = store.learners.get_or_add("Zebedee Marlow", NOW)
        for number in range(30):
            for learner, key, token in ((wren, 500, "wren-token"), (leaving, 700, marks[1])):
                kept = store.exercises.keep(learner, exercise(key + number))
                hand_in(store, learner, kept, token=f"{token}-{number}")
        kept = store.exercises.keep(leaving, exercise(777))
        drill = OpenDrill(token=marks[2], started_at=NOW, seen_at=NOW, text=marks[3], text_at=NOW)
        store.open_drills.begin(leaving, kept, drill)
        assert all(traces(sqlite_location, mark) for mark in marks)
        store.learners.delete(leaving)
        assert [mark for mark in marks if traces(sqlite_location, mark)] == []
        assert traces(sqlite_location, "wren-token-29") == [FILE_NAME]
        assert store.attempts.count(wren) == 30


def test_an_older_file_is_erased_when_it_is_brought_up(folder: Path) -> None:
    """What an older version deleted without erasing it is gone from the file after migration."""
    folder.mkdir()
    path = folder / FILE_NAME
    dump = Path(__file__).parent / "data" / "v1.sql"
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.executescript(dump.read_text(encoding="utf-8"))
        connection.execute("PRAGMA secure_delete = OFF").fetchone()
        connection.execute("INSERT INTO learners VALUES (99, 'Zebedee Marlow', '2026-01-01')")
        connection.commit()
        connection.execute("DELETE FROM learners WHERE id = 99")
    assert traces(folder, "Zebedee Marlow") == [FILE_NAME]
    Store(folder).close()
    copy = f"trainer-before-{SHIPPED.revisions[0]}-1.sqlite3"
    assert traces(folder, "Zebedee Marlow") == [copy]
