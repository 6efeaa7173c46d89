from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from tests.store.samples import NOW, check_store, exercise, hand_in
from trainer.errors import FileError, StoreBroken, StoreError, StoreNewer
from trainer.store import FILE_NAME, Learner, Store
from trainer.store.migrate import SHIPPED
from trainer.store.sqlite import inspect_file

DUMP = Path(__file__).parent / "data" / "v1.sql"


@pytest.fixture
def location(sqlite_location: Path) -> Path:
    """Files are SQLite's."""
    return sqlite_location


@pytest.fixture
def backup(fresh_store: Store, learner: Learner, tmp_path: Path) -> Path:
    """A backup of one attempt; the store has gone on to two since."""
    kept = fresh_store.exercises.keep(learner, exercise())
    hand_in(fresh_store, learner, kept, NOW, token="a")
    path = fresh_store.backup(tmp_path / "evening.sqlite3")
    hand_in(fresh_store, learner, kept, NOW + timedelta(days=1), token="b")
    return path


def test_a_backup_is_put_back(
    fresh_store: Store, learner: Learner, backup: Path, folder: Path
) -> None:
    """The store has what the backup had, a window that was open sees it, the newer copy is kept."""
    kept = Store.restore(backup, folder)
    assert fresh_store.attempts.count(learner) == 1
    assert len(fresh_store.progress.days(learner)) == 1
    check_store(fresh_store)
    hand_in(fresh_store, learner, fresh_store.exercises.keep(learner, exercise()), token="c")
    assert fresh_store.attempts.count(learner) == 2
    assert kept is not None
    assert "restore" in kept.name
    (folder / "old").mkdir()
    kept.rename(folder / "old" / FILE_NAME)
    with Store(folder / "old") as old:
        assert [a.token for a in old.attempts.history(learner)] == ["b", "a"]


def test_a_backup_makes_a_new_folder(backup: Path, learner: Learner, tmp_path: Path) -> None:
    """A backup can be restored where there is nothing yet."""
    assert Store.restore(backup, tmp_path / "new" / "place") is None
    with Store(tmp_path / "new" / "place") as store:
        assert store.attempts.count(learner) == 1


@pytest.fixture
def older(tmp_path: Path) -> Path:
    """A backup that the first version of the trainer made."""
    path = tmp_path / "old.sqlite3"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(DUMP.read_text(encoding="utf-8"))
    return path


def test_an_older_backup_is_brought_up(older: Path, tmp_path: Path) -> None:
    """A backup of an older version is the present one once restored, and itself stays as it was."""
    before = older.read_bytes()
    Store.restore(older, tmp_path / "place")
    assert inspect_file(tmp_path / "place" / FILE_NAME, 1).revision == SHIPPED.head
    assert older.read_bytes() == before
    assert [path.name for path in (tmp_path / "place").iterdir()] == [FILE_NAME]
    with Store(tmp_path / "place") as store:
        assert len(store.learners.all()) == 2
        check_store(store)


def test_an_open_store_goes_on_with_an_older_backup(
    fresh_store: Store, learner: Learner, older: Path, folder: Path
) -> None:
    """A program that has the store open reads and writes on after an older one was restored."""
    assert fresh_store.learners.all() == (learner,)
    Store.restore(older, folder)
    names = ["Wren Halloway", "Zoë Ångström"]
    assert [found.name for found in fresh_store.learners.all()] == names
    fresh_store.learners.get_or_add("Odell Pruitt", NOW)
    assert len(fresh_store.learners.all()) == 3
    check_store(fresh_store)


@pytest.mark.parametrize("damage", [b"", b"no database at all", b"SQLite format 3\x00 and no more"])
def test_a_backup_replaces_a_damaged_store(backup: Path, tmp_path: Path, damage: bytes) -> None:
    """A store that cannot be opened is moved aside, log and all, and the backup takes its place."""
    place = tmp_path / "place"
    place.mkdir()
    (place / FILE_NAME).write_bytes(damage)
    (place / f"{FILE_NAME}-wal").write_bytes(b"a rest")
    kept = Store.restore(backup, place)
    assert kept is not None
    assert kept.read_bytes() == damage
    assert kept.with_name(f"{kept.name}-wal").read_bytes() == b"a rest"
    with Store(place) as store:
        check_store(store)
        assert len(store.learners.all()) == 1


def test_a_failed_restore_leaves_nothing_behind(
    fresh_store: Store, learner: Learner, older: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """If bringing the backup up fails the store is as it was, and no half-made file is left."""

    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("the power went")

    monkeypatch.setattr("trainer.store.migrate._run", fail)
    with pytest.raises(StoreError, match="the power went"):
        Store.restore(older, folder)
    assert fresh_store.learners.all() == (learner,)
    assert {path.name for path in folder.iterdir()} <= {
        FILE_NAME,
        f"{FILE_NAME}-wal",
        f"{FILE_NAME}-shm",
    }


def test_what_is_no_backup_changes_nothing(
    fresh_store: Store, learner: Learner, backup: Path, folder: Path, tmp_path: Path
) -> None:
    """No file, an empty one, another's, a newer one or the store itself is refused, named."""
    empty, text, strange = (tmp_path / name for name in ("empty", "text", "strange"))
    empty.touch()
    text.write_text("hello, this is no database at all")
    with closing(sqlite3.connect(strange)) as connection:
        connection.execute("CREATE TABLE pears (kind)")
    newer = tmp_path / "newer.sqlite3"
    newer.write_bytes(backup.read_bytes())
    with closing(sqlite3.connect(newer)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9998'")
        connection.commit()
    cases: dict[Path, type[Exception]] = {
        tmp_path / "nothing": FileError,
        tmp_path: FileError,
        empty: FileError,
        text: StoreBroken,
        strange: StoreBroken,
        newer: StoreNewer,
        folder / FILE_NAME: FileError,
    }
    for path, error in cases.items():
        with pytest.raises(error, match=path.name[:5]):
            Store.restore(path, folder)
    assert fresh_store.attempts.count(learner) == 2
    assert [path.name for path in folder.glob("*restore*")] == []


def test_a_damaged_backup_changes_nothing(
    fresh_store: Store, learner: Learner, backup: Path, folder: Path
) -> None:
    """A backup that is damaged inside is found out before anything is written."""
    data = bytearray(backup.read_bytes())
    for page in range(4096 * 3, len(data), 4096):
        data[page : page + 200] = b"\xff" * 200
    backup.write_bytes(data)
    with pytest.raises(StoreBroken):
        Store.restore(backup, folder)
    assert fresh_store.attempts.count(learner) == 2


def test_a_servers_store_has_its_own_tools(backup: Path) -> None:
    """Restoring into a database server is refused with what to do."""
    with pytest.raises(StoreError, match="server"):
        Store.restore(backup, "postgresql://u:p@millrace.invalid/x")
