"""Practice: the next item, what an attempt adds, and a record with a million graded bars."""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC
from pathlib import Path
from statistics import median, quantiles

from tests.benchmarks import Row, at_most, seen
from tests.benchmarks.million import BARS, LAST, NAME, make, record_days
from tests.drill.evening import Clock
from trainer.chart import format_chart
from trainer.drill import DailySets, Drills, rebuild, submit
from trainer.exercise import load_course
from trainer.store import FILE_NAME, Learner, Store

DAYS = 12
# Attempts in a long log.
LONG = 120
COLD = """
import sys, time
from datetime import datetime, UTC
from trainer.drill import DailySets, Drills
from trainer.exercise import load_course
from trainer.store import Store
with Store(sys.argv[1]) as store:
    course, learner = load_course(), store.learners.all()[0]
    drills = Drills(store, learner, lambda: datetime(2026, 4, 20, 18, 0, tzinfo=UTC))
    start = time.perf_counter()
    DailySets(drills, course).next()
    print(time.perf_counter() - start)
"""


def items(folder: Path) -> list[Row]:
    """A learner's sets over some days: how long the next item takes, set planned or not, and how
    long handing it in."""
    took: list[float] = []
    submitted: list[float] = []
    with Store(folder) as store:
        learner = store.learners.get_or_add(NAME, LAST)
        record_days(store, learner, 10)
        clock = Clock(LAST)
        drills = Drills(store, learner, clock, UTC)
        for _ in range(DAYS):
            clock.pass_(days=1)
            _one_day(drills, clock, took, submitted)
    line = [sys.executable, "-c", COLD, str(folder)]
    cold = float(subprocess.run(line, check=True, capture_output=True).stdout)
    # What is made once in a process is made by then.
    warm = quantiles(took[12:], n=20)
    return [
        at_most("next item chosen and begun, median", 1000 * warm[9], 50, "ms"),
        seen("next item chosen and begun, 95th percentile", 1000 * warm[18], "ms"),
        seen("a set planned, first in a process", 1000 * cold, "ms"),
        seen("attempt graded and stored, median", 1000 * median(submitted), "ms"),
    ]


def _one_day(drills: Drills, clock: Clock, took: list[float], submitted: list[float]) -> None:
    """A day's set, every song written as it was played; seconds go to `took` and `submitted`."""
    today = DailySets(drills, load_course())
    for _ in range(12):
        start = time.perf_counter()
        given = today.next()
        took.append(time.perf_counter() - start)
        if given is None:
            return
        key, token = given.drill.record.key, given.drill.token
        text = format_chart(given.drill.exercise.chart)
        drills.listen(key, token=token)
        clock.pass_(minutes=1)
        start = time.perf_counter()
        submit(drills, key, text, token=token)
        submitted.append(time.perf_counter() - start)


def growth(folder: Path) -> list[Row]:
    """What an attempt at a whole song adds to the file."""
    with Store(folder) as store:
        learner = store.learners.get_or_add(NAME, LAST)
        record_days(store, learner, 10)
        before = _size(store, folder)
        record_days(store, store.learners.get_or_add("Odell Pruitt", LAST), 60)
        grown = _size(store, folder) - before
        bars = sum(a.bars for a in store.attempts.history(store.learners.all()[0], limit=60))
    return [
        seen("store growth an attempt at a whole song", grown / 60 / 1024, "KiB"),
        seen("of it a graded bar", grown / bars, "bytes"),
    ]


def _size(store: Store, folder: Path) -> int:
    """Bytes of everything stored, the log included."""
    copy = store.backup(folder / f"copy-{time.monotonic_ns()}")
    size = copy.stat().st_size
    copy.unlink()
    return size


def million(folder: Path) -> list[Row]:
    """The next item, and what is read of it all, with a million bars stored (`web` loads the pages
    with as many)."""
    bars = make(folder, BARS)
    with Store(folder) as store:
        learner = store.learners.get(NAME)
        assert learner is not None
        clock = Clock(LAST)
        today = DailySets(Drills(store, learner, clock, UTC), load_course())
        planned, given = [], []
        for _ in range(6):
            clock.pass_(days=1)
            planned.append(_seconds(today.plan))
            given.append(_seconds(today.next))
        read = min(_seconds(lambda: _read_progress(store, learner)) for _ in range(3))
    return [
        seen("bars in the record", bars, ""),
        seen("its file", (folder / FILE_NAME).stat().st_size / 2**20, "MiB"),
        seen("a set planned, a million bars", 1000 * min(planned), "ms"),
        at_most("next item chosen and begun, a million bars", 1000 * median(given), 50, "ms"),
        seen("sums and ratings of all days read, a million bars", 1000 * read, "ms"),
    ]


def _read_progress(store: Store, learner: Learner) -> None:
    store.progress.skills(learner)
    store.progress.confusions(learner)
    store.progress.days(learner)
    store.ratings.days(learner)
    store.attempts.best_by_level(learner)


def _seconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def again(folder: Path) -> list[Row]:
    """Ratings and sums made again from a long log."""
    with Store(folder) as store:
        learner = store.learners.get_or_add(NAME, LAST)
        record_days(store, learner, LONG)
        bars = sum(each.bars for each in store.attempts.history(learner, limit=LONG))
        took = min(_seconds(lambda: rebuild(store, learner)) for _ in range(2))
    return [seen("ratings made again, bars a second", bars / took, "")]


def run() -> list[Row]:
    """All rows."""
    with tempfile.TemporaryDirectory() as folder:
        return [
            *items(Path(folder, "items")),
            *growth(Path(folder, "growth")),
            *again(Path(folder, "again")),
            *million(Path(folder, "million")),
        ]
