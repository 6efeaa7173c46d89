"""Practice: the next item, what an attempt adds, and a record with a million graded bars."""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
import time
from datetime import timedelta
from pathlib import Path
from statistics import median, quantiles

from tests.benchmarks import Row, at_most, seen
from tests.benchmarks.million import BARS, LAST, NAME, make, record_days
from trainer.chart import chart_to_json
from trainer.exercise import bar_skills, exercise_to_json, load_course
from trainer.grade import grade, report_to_json
from trainer.store import FILE_NAME, Sitting, Store, Today

DAYS = 12
COLD = """
import random, sys, time
from datetime import datetime, timedelta, UTC
from trainer.exercise import load_course
from trainer.store import Store, Today
with Store(sys.argv[1]) as store:
    course, learner = load_course(), store.learners.all()[0]
    now = datetime(2026, 4, 20, 18, 0, tzinfo=UTC)
    start = time.perf_counter()
    Today(store, learner, course, now.date(), random.Random(1)).next(now)
    print(time.perf_counter() - start)
"""


def items(folder: Path) -> list[Row]:
    """A learner's sets over some days: how long the next item takes, set planned or not."""
    course, took, recorded = load_course(), [], []
    with Store(folder) as store:
        learner = store.learners.get_or_add(NAME, LAST)
        record_days(store, learner, 10)
        for day in range(1, DAYS + 1):
            for minute in range(12):
                now = LAST + timedelta(days=day, minutes=minute)
                today = Today(store, learner, course, now.date(), random.Random(day))
                start = time.perf_counter()
                given = today.next(now)
                took.append(time.perf_counter() - start)
                if given is None:
                    break
                chart = given.exercise.chart
                report = report_to_json(grade(chart, chart))
                kept = store.exercises.keep(exercise_to_json(given.exercise), "generated")
                start = time.perf_counter()
                store.attempts.record(
                    learner,
                    kept,
                    "typed",
                    report,
                    Sitting(now, day=now.date()),
                    now,
                    answer_chart=chart_to_json(chart),
                    bar_skills=bar_skills(chart),
                )
                recorded.append(time.perf_counter() - start)
    line = [sys.executable, "-c", COLD, str(folder)]
    cold = float(subprocess.run(line, check=True, capture_output=True).stdout)
    # What is made once in a process is made by then.
    warm = quantiles(took[12:], n=20)
    return [
        at_most("next item chosen, median", 1000 * warm[9], 50, "ms"),
        seen("next item chosen, 95th percentile", 1000 * warm[18], "ms"),
        seen("a set planned, first in a process", 1000 * cold, "ms"),
        seen("attempt stored and taken in, median", 1000 * quantiles(recorded, n=2)[0], "ms"),
    ]


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
    """The next item, with a million bars stored (`web` loads the pages with as many)."""
    bars = make(folder, BARS)
    with Store(folder) as store:
        learner = store.learners.get(NAME)
        assert learner is not None
        planned, given = [], []
        for day in range(1, 7):
            now = LAST + timedelta(days=day)
            today = Today(store, learner, load_course(), now.date(), random.Random(1))
            start = time.perf_counter()
            today.plan(now)
            planned.append(time.perf_counter() - start)
            today.next(now)
            given.append(time.perf_counter() - start - planned[-1])
    return [
        seen("bars in the record", bars, ""),
        seen("its file", (folder / FILE_NAME).stat().st_size / 2**20, "MiB"),
        seen("a set planned, a million bars", 1000 * min(planned), "ms"),
        at_most("next item chosen, a million bars", 1000 * median(given), 50, "ms"),
    ]


def run() -> list[Row]:
    """All rows."""
    with tempfile.TemporaryDirectory() as folder:
        return [
            *items(Path(folder, "items")),
            *growth(Path(folder, "growth")),
            *million(Path(folder, "million")),
        ]
