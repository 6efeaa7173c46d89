"""Several writers, and writers that die."""

from __future__ import annotations

import sqlite3
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from tests.patience import PATIENCE_S
from tests.store.samples import NOW, check_store, exercise, hand_in
from trainer.drill import rating_state, rebuild
from trainer.errors import StoreLocked
from trainer.store import OpenDrill, Store
from trainer.store.sqlite import set_pragmas

ROOT = Path(__file__).parents[2]


def start_child(location: Path | str, start: int) -> subprocess.Popen[str]:
    """A process that submits answers, numbered from `start`, and confirms them on its pipe."""
    command = [sys.executable, "-m", "tests.store.child", str(location), str(start)]
    return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True)


def test_a_killed_program_loses_no_confirmed_attempt(location: Path | str) -> None:
    """Killed while it writes, three times over, every attempt it confirmed is there and whole."""
    confirmed: set[str] = set()
    for start, count in ((0, 1), (1000, 5), (2000, 12)):
        with start_child(location, start) as child:
            assert child.stdout is not None
            lines = [child.stdout.readline() for _ in range(count)]
            child.kill()
            lines += child.stdout.readlines()
        assert child.returncode == -9
        # The last line may have been cut off by the kill.
        confirmed |= {line.strip() for line in lines if line.endswith("\n")}
    with Store(location) as store:
        check_store(store)
        learner = store.learners.get_or_add("Wren Halloway", NOW)
        log = list(store.attempts.log(learner))
        assert len(confirmed) >= 18
        assert confirmed <= {each.record.token for each in log}
        assert all(len(each.bars) == each.record.bars == 4 for each in log)
        assert sum(day.bars for day in store.progress.skills(learner)) == 15 * len(log)
        assert sum(day.right for day in store.progress.skills(learner)) == 9 * len(log)
        state = rating_state(store, learner)
        assert rebuild(store, learner) == len(log)
        assert rating_state(store, learner) == state


def test_two_connections_write_by_turns(two_stores: tuple[Store, Store]) -> None:
    """Two threads on two connections hand in at once; every attempt and sum is there."""
    learner = two_stores[0].learners.get_or_add("Wren Halloway", NOW)
    kept = two_stores[0].exercises.keep(learner, exercise())

    def work(number: int) -> None:
        store = two_stores[number % 2]
        drill = OpenDrill(str(number), NOW, NOW, text=str(number))
        store.open_drills.begin(learner, kept, drill)
        store.open_drills.change(learner, kept, drill)
        hand_in(store, learner, kept, NOW + timedelta(seconds=number), token=str(number))

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(work, range(60)))
    for store in two_stores:
        history = store.attempts.history(learner, limit=100)
        assert [record.token for record in history] == [str(n) for n in range(59, -1, -1)]
        assert sum(day.bars for day in store.progress.skills(learner)) == 60 * 15


def test_one_new_learner_from_two_windows_is_one(two_stores: tuple[Store, Store]) -> None:
    """The same new name from two connections at once is one learner."""
    with ThreadPoolExecutor(2) as pool:
        made = pool.map(lambda s: s.learners.get_or_add("Odell Pruitt", NOW), two_stores * 5)
    assert len({learner.id for learner in made}) == 1


def test_switching_to_the_log_waits_for_a_writer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite itself refuses the switch at once while another connection writes."""
    with (
        closing(sqlite3.connect(tmp_path / "new", isolation_level=None)) as writer,
        closing(sqlite3.connect(tmp_path / "new", isolation_level=None)) as other,
    ):
        writer.execute("BEGIN IMMEDIATE")
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            other.execute("PRAGMA journal_mode = WAL")
        waits: list[float] = []

        def wait(seconds: float) -> None:
            waits.append(seconds)
            if len(waits) == 3:
                writer.execute("COMMIT")

        monkeypatch.setattr("trainer.store.sqlite.time.sleep", wait)
        set_pragmas(other, foreign_keys=True)
        assert len(waits) == 3
        assert other.execute("PRAGMA journal_mode").fetchone() == ("wal",)


def test_switching_to_the_log_gives_up_in_the_end(tmp_path: Path) -> None:
    """A writer that never ends is reported after the connection's own timeout."""
    with (
        closing(sqlite3.connect(tmp_path / "new", isolation_level=None)) as writer,
        closing(sqlite3.connect(tmp_path / "new", isolation_level=None, timeout=0.05)) as other,
    ):
        writer.execute("BEGIN IMMEDIATE")
        with pytest.raises(sqlite3.OperationalError, match="locked"):
            set_pragmas(other, foreign_keys=True)


def test_a_new_store_made_by_several_at_once(empty_location: Path | str) -> None:
    """Programs that find no tables and make them at once all end with the same store."""
    code = (
        "import sys; from datetime import datetime, UTC; from trainer.store import Store\n"
        "import trainer.store.store, alembic.command\n"
        "print('ready', flush=True); sys.stdin.readline()\n"
        "with Store(sys.argv[1], wait_s=float(sys.argv[3])) as store:\n"
        "    store.learners.get_or_add(sys.argv[2], datetime.now(UTC))\n"
    )
    children = [
        subprocess.Popen(
            [sys.executable, "-c", code, str(empty_location), name, str(PATIENCE_S)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        for name in ("Ada", "Bo")
    ]
    for child in children:
        assert child.stdout is not None
        assert child.stdout.readline() == "ready\n"
    for child in children:
        assert child.stdin is not None
        child.stdin.write("go\n")
        child.stdin.flush()
    errors = [child.communicate(timeout=PATIENCE_S)[1] for child in children]
    assert [child.returncode for child in children] == [0, 0], errors
    with Store(empty_location) as store:
        assert [learner.name for learner in store.learners.all()] == ["Ada", "Bo"]
        check_store(store)


def test_writers_of_one_program_take_turns(record: Path) -> None:
    """On SQLite a second writer of the program waits for its turn, not for SQLite, which has
    waiting connections look again and again and may pass one over; it waits no longer than for
    another program."""
    with (
        Store(record, wait_s=0.1) as store,
        ThreadPoolExecutor(1) as pool,
        store.transaction(),
        pytest.raises(StoreLocked, match="other work of this program"),
    ):
        pool.submit(store.learners.get_or_add, "Wren Halloway", NOW).result()
