from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from tests.store.samples import NOW, exercise, hand_in
from trainer.errors import FileError, StoreBroken, StoreError, StoreNewer
from trainer.store import FILE_NAME, Learner, Store

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
    fresh_store.check()
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


def test_an_older_backup_is_brought_up(tmp_path: Path) -> None:
    """A backup of an older version becomes the present one when it is next opened."""
    with closing(sqlite3.connect(tmp_path / "old.sqlite3")) as connection:
        connection.executescript(DUMP.read_text(encoding="utf-8"))
    Store.restore(tmp_path / "old.sqlite3", tmp_path / "place")
    with Store(tmp_path / "place") as store:
        assert len(store.learners.all()) == 2
        store.check()


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
