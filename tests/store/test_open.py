"""Opening what is there, what is not, and what is not ours; SQLite's own library is the witness."""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from tests.store.samples import NOW, check_store, exercise, hand_in
from trainer.errors import FileError, StoreBroken, StoreError, StoreLocked, StoreNewer
from trainer.store import FILE_NAME, ExerciseRecord, Learner, OpenDrill, Store, default_data_folder


@pytest.fixture
def location(sqlite_location: Path) -> Path:
    """Files are SQLite's."""
    return sqlite_location


def closed(folder: Path) -> Path:
    """The path of a closed store's file with a learner in it."""
    with Store(folder) as store:
        store.learners.get_or_add("Wren Halloway", NOW)
    return folder / FILE_NAME


def assert_refused(path: Path, kind: type[StoreError], *said: str) -> None:
    """Opening raises `kind`, names the path and more, and leaves every byte as it was."""
    before = path.read_bytes()
    with pytest.raises(kind) as caught:
        Store(path.parent, wait_s=0.1)
    assert type(caught.value) is kind
    for part in (str(path), *said):
        assert part in str(caught.value)
    assert path.read_bytes() == before


def test_a_store_opens_where_nothing_is(folder: Path) -> None:
    """A folder that is not there is made, with one file in it once the store is closed."""
    with Store.open(folder) as store:
        assert store.learners.all() == ()
    assert [path.name for path in folder.iterdir()] == [FILE_NAME]


def test_what_was_stored_is_there_next_time(folder: Path) -> None:
    """A closed store opened again has what was put in."""
    with Store(folder) as store:
        learner = store.learners.get_or_add("Wren Halloway", NOW)
        made = hand_in(store, learner, store.exercises.keep(learner, exercise()))
    with Store(folder) as store:
        assert store.attempts.history(learner) == (made,)


def test_a_store_opens_by_url(tmp_path: Path) -> None:
    """A database URL names its file itself."""
    with Store.open(f"sqlite:///{tmp_path}/class.db") as store:
        store.learners.get_or_add("Wren Halloway", NOW)
    assert (tmp_path / "class.db").exists()


@pytest.mark.parametrize(
    "url", ["sqlite://", "sqlite:///:memory:", "sqlite:////x/y?mode=ro", "what://", "nothing://x/y"]
)
def test_urls_that_name_no_database_are_told(url: str) -> None:
    """A URL without a file, or of an unknown kind, is an error that repeats it."""
    with pytest.raises(StoreError, match=r"what|nothing|sqlite"):
        Store(url)


def test_the_default_folder_is_the_platforms(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Without a folder the user's data folder is used; on Linux as the XDG specification says.

    Source: XDG Base Directory Specification 0.8, XDG_DATA_HOME.
    """
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    if sys.platform == "linux":
        assert default_data_folder() == tmp_path / "chart-trainer"
        with Store.open() as store:
            assert store.path == tmp_path / "chart-trainer" / FILE_NAME
    assert default_data_folder().name == "chart-trainer"


def test_pragmas_are_set_on_every_connection(fresh_store: Store) -> None:
    """Foreign keys on, WAL, FULL: https://www.sqlite.org/pragma.html gives 1, wal and 2."""
    for _ in range(2):
        with fresh_store._database.reading() as connection:
            found = {
                name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
                for name in ("foreign_keys", "journal_mode", "synchronous", "busy_timeout")
            }
        assert found == {
            "foreign_keys": 1,
            "journal_mode": "wal",
            "synchronous": 2,
            "busy_timeout": 100,
        }
        fresh_store.close()


@pytest.mark.parametrize("content", [b"x", b"Dear diary, 4 4 1 1", b"\x00" * 8192])
def test_a_file_that_is_no_database_is_left(folder: Path, content: bytes) -> None:
    """A file of another kind is told and not touched."""
    folder.mkdir()
    path = folder / FILE_NAME
    path.write_bytes(content)
    assert_refused(path, StoreBroken, "expected a database", "Put a backup in its place")


def test_anothers_database_is_left(folder: Path) -> None:
    """A database of another program is told with its tables and not touched."""
    folder.mkdir()
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        connection.execute("CREATE TABLE recipes (cake TEXT)")
    assert_refused(folder / FILE_NAME, StoreBroken, "tables recipes", "made by the trainer")


def test_a_cut_file_is_left(folder: Path) -> None:
    """A database that lost its second half is told as damaged and not touched."""
    path = closed(folder)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 2])
    assert_refused(path, StoreBroken, "found damage")


def test_an_overwritten_page_is_found(folder: Path) -> None:
    """Damage inside is found by a check, or told when it is met, never passed over."""
    path = closed(folder)
    content = bytearray(path.read_bytes())
    content[4096:] = b"\xa5" * (len(content) - 4096)
    path.write_bytes(content)
    with pytest.raises(StoreBroken, match=FILE_NAME), Store(folder) as store:
        check_store(store)
    with pytest.raises(StoreBroken, match="found damage"), Store(folder) as store:
        store.learners.all()


def test_a_log_without_its_database_is_left(folder: Path) -> None:
    """A database that vanished from beside its log is not taken for a new one."""
    folder.mkdir()
    log = folder / (FILE_NAME + "-wal")
    log.write_bytes(b"what was committed last")
    with pytest.raises(StoreBroken, match="beside it holds data"):
        Store(folder)
    assert log.read_bytes() == b"what was committed last"
    assert not (folder / FILE_NAME).exists()


def test_a_file_cut_to_nothing_is_left(folder: Path) -> None:
    """An empty file is a store that was lost: it is told with the remedy, and left."""
    path = closed(folder)
    path.write_bytes(b"")
    assert_refused(path, StoreBroken, "found an empty file", "Put a backup in its place")


def test_a_new_file_appears_whole(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A store that is being made has no file of its name yet; if it fails, none is left at all."""
    seen: list[list[str]] = []

    def fail(*_: object, **__: object) -> None:
        seen.append([path.name for path in folder.iterdir()])
        raise RuntimeError("the power went")

    monkeypatch.setattr("trainer.store.migrate._run", fail)
    with pytest.raises(StoreError, match="the power went"):
        Store(folder)
    assert len(seen) == 1
    assert FILE_NAME not in seen[0]
    assert list(folder.iterdir()) == []
    monkeypatch.undo()
    with Store(folder) as store:
        check_store(store)


def test_a_newer_database_is_left(folder: Path) -> None:
    """A revision that is not known is told as newer, and the file is not touched."""
    path = closed(folder)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '0999'")
    assert_refused(path, StoreNewer, "revision '0999'", "Update the trainer")


def test_a_lost_revision_is_told(folder: Path) -> None:
    """A database with our tables but no revision is broken, not empty."""
    path = closed(folder)
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("DELETE FROM alembic_version")
    assert_refused(path, StoreBroken, "found 0 revisions")


@pytest.fixture
def holder(fresh_store: Store) -> Iterator[sqlite3.Connection]:
    """Another program that is writing to the fresh store."""
    assert fresh_store.path is not None
    with closing(sqlite3.connect(fresh_store.path, isolation_level=None)) as connection:
        connection.execute("BEGIN IMMEDIATE")
        yield connection


def test_a_locked_store_says_so_and_loses_nothing(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord, holder: sqlite3.Connection
) -> None:
    """While another program writes, recording waits, then tells; afterwards it works."""
    with pytest.raises(StoreLocked, match=r"more than 0\.1 s"):
        hand_in(fresh_store, learner, kept)
    assert fresh_store.attempts.history(learner) == ()
    holder.execute("COMMIT")
    hand_in(fresh_store, learner, kept)
    assert len(fresh_store.attempts.history(learner)) == 1


def test_a_file_held_by_another_program_is_left(folder: Path) -> None:
    """A file locked as a whole is told as locked when it is opened."""
    path = closed(folder)
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("BEGIN EXCLUSIVE")
        assert_refused(path, StoreLocked, "another program held the database")


def test_a_full_disk_keeps_the_draft(
    fresh_store: Store, learner: Learner, kept: ExerciseRecord
) -> None:
    """With no room left storing fails whole, says so with the path, and works once there is."""
    drill = OpenDrill("token", NOW, NOW, text="1 1 " * 10)
    fresh_store.open_drills.begin(learner, kept, drill)
    database = fresh_store._database
    # The limit is SQLite's own, and its error is that of a full disk (SQLITE_FULL).
    with database.reading() as connection:
        connection.exec_driver_sql("PRAGMA max_page_count = 1")

    def fill() -> None:
        for _ in range(100):
            hand_in(fresh_store, learner, kept)
            fresh_store.open_drills.change(learner, kept, drill)

    with pytest.raises(StoreError, match="Free some space") as caught:
        fill()
    assert str(fresh_store.path) in str(caught.value)
    assert fresh_store.open_drills.find(learner, kept) == drill
    count = fresh_store.attempts.count(learner)
    fresh_store.close()
    hand_in(fresh_store, learner, kept)
    assert fresh_store.attempts.count(learner) == count + 1
    check_store(fresh_store)


@contextmanager
def not_root() -> Iterator[None]:
    """Root may write everywhere; be nobody for a while."""
    user = os.geteuid()
    if user == 0:
        os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(user)


@pytest.fixture
def public_folder() -> Iterator[Path]:
    """A folder that every user can reach, unlike pytest's."""
    folder = Path(tempfile.mkdtemp())
    folder.chmod(0o777)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


@pytest.fixture
def read_only(public_folder: Path) -> Iterator[Path]:
    """A folder that may not be written, for a user who is not root either."""
    public_folder.chmod(0o555)
    with not_root():
        yield public_folder


@pytest.mark.parametrize("log", [False, True], ids=["closed", "with its log"])
def test_a_store_on_a_read_only_disk_is_backed_up(
    sqlite_location: Path, public_folder: Path, log: bool
) -> None:
    """Where nothing can be written a copy is made all the same, with what only the log has."""
    disk = public_folder / "disk"
    disk.mkdir()
    with Store(sqlite_location) as store:
        store.learners.get_or_add("Wren Halloway", NOW)
        if not log:
            store.close()
        for path in sqlite_location.glob(f"{FILE_NAME}*"):
            if not path.name.endswith("-shm"):
                shutil.copyfile(path, disk / path.name)
                (disk / path.name).chmod(0o444)
    names = sorted(path.name for path in disk.iterdir())
    assert len(names) == 1 + log
    disk.chmod(0o555)
    with not_root():
        target = Store.back_up(public_folder / FILE_NAME, disk)
        with Store(target.parent) as copy:
            assert [learner.name for learner in copy.learners.all()] == ["Wren Halloway"]
            check_store(copy)
        with Store(disk) as store, pytest.raises(StoreError, match="choose another with --data"):
            store.learners.all()
    assert sorted(path.name for path in disk.iterdir()) == names


def test_a_backup_of_nothing_is_told(folder: Path, tmp_path: Path) -> None:
    """Where there is no store, none is made for the backup."""
    with pytest.raises(FileError, match="found no record"):
        Store.back_up(tmp_path / "copy", folder)
    assert not folder.exists()


def test_a_read_only_folder_is_told(fresh_store: Store, read_only: Path) -> None:
    """A folder that cannot be written is an error with its path and what to do."""
    with pytest.raises(StoreError, match=f"{read_only}/{FILE_NAME}.*choose another with --data"):
        Store(read_only)
    with pytest.raises(StoreError, match=f"{read_only}/new.*expected a folder"):
        Store(read_only / "new")


def test_a_file_in_place_of_the_folder_is_told(tmp_path: Path) -> None:
    """Where a file stands for the folder, it is told and left."""
    (tmp_path / "file").write_text("mine")
    with pytest.raises(StoreError, match="expected a folder the program can write to"):
        Store(tmp_path / "file")
    assert (tmp_path / "file").read_text() == "mine"


def test_a_folder_in_place_of_the_file_is_told(folder: Path) -> None:
    """Where a folder stands for the file, it is told."""
    (folder / FILE_NAME).mkdir(parents=True)
    with pytest.raises(StoreError, match="Is a directory"):
        Store(folder)


def test_a_backup_is_whole_while_others_write(
    two_stores: tuple[Store, Store], tmp_path: Path
) -> None:
    """A copy made during another's transaction has what was committed before, and opens alone."""
    store, writer = two_stores
    learner = store.learners.get_or_add("Wren Halloway", NOW)
    kept = store.exercises.keep(learner, exercise())
    made = hand_in(store, learner, kept)
    target = tmp_path / "copies" / FILE_NAME
    target.parent.mkdir()
    with writer._database.writing() as connection:
        connection.exec_driver_sql("UPDATE attempts SET score = 0")
        assert store.backup(target) == target
    assert [path.name for path in target.parent.iterdir()] == [FILE_NAME]
    with Store(target.parent) as copy:
        check_store(copy)
        assert copy.attempts.history(learner) == (made,)


def test_a_backup_overwrites_nothing(fresh_store: Store, tmp_path: Path) -> None:
    """A backup onto a file that is there, or into no folder, is refused and leaves no rest."""
    (tmp_path / "mine").write_text("mine")
    with pytest.raises(FileError, match="expected a name that isn't taken"):
        fresh_store.backup(tmp_path / "mine")
    with pytest.raises(StoreError, match="nowhere"):
        fresh_store.backup(tmp_path / "nowhere" / "copy")
    assert (tmp_path / "mine").read_text() == "mine"


@pytest.mark.parametrize("name", ["trainer.store", "trainer.store.records"])
def test_importing_is_light(name: str) -> None:
    """Importing the room loads no SQL library."""
    code = f"import sys, {name}; print(sorted({{'sqlalchemy', 'alembic'}} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_opening_a_store_in_use_needs_no_migration_library(folder: Path) -> None:
    """A store that is up to date opens without loading Alembic."""
    closed(folder)
    code = (
        "import sys; from trainer.store import Store\n"
        f"with Store({str(folder)!r}) as store: assert store.learners.all()\n"
        "print('alembic' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
