"""A record with a million graded bars: `python -m tests.benchmarks.million FOLDER [BARS]`.

Two months of real attempts are recorded, then copied with their sums to earlier and earlier days,
four sets of copies to the same days, so that a day holds about what a diligent learner does.
"""

from __future__ import annotations

import random
import sqlite3
import sys
from contextlib import closing
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.drill.evening import Clock, answered, in_time
from trainer.chart import Bar, Chart, Chord, format_chart
from trainer.drill import Drills
from trainer.exercise import load_course, make_exercise
from trainer.store import FILE_NAME, Learner, Store

NAME = "Wren Halloway"
DAYS = 60
LAST = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
BARS = 1_000_000
SAME_DAY = 4
DAY_TABLES = {
    "skill_days": ("skill", ("bars", "score_sum", '"right"')),
    "confusion_days": ("played, written", ("chords",)),
}


def with_slips(chart: Chart, rng: random.Random) -> Chart:
    """A chart in which a tenth of the bars have another chord than the one played."""

    def slip(bar: Bar) -> Bar:
        if rng.random() > 0.1:
            return bar
        first = replace(bar.events[0], chord=Chord(rng.randint(1, 7), quality=rng.choice("-o")))
        return replace(bar, events=(first, *bar.events[1:]))

    sections = []
    for section in chart.sections:
        phrases = [replace(each, bars=tuple(map(slip, each.bars))) for each in section.phrases]
        sections.append(replace(section, phrases=tuple(phrases)))
    return replace(chart, sections=tuple(sections))


def record_days(store: Store, learner: Learner, days: int = DAYS) -> None:
    """An attempt at a level of songs on each of so many days, with slips and lags."""
    rng = random.Random(5)
    songs = [level for level in load_course() if level.recipe.size == "song"]
    clock = Clock(LAST - timedelta(days=days))
    drills = Drills(store, learner, clock, UTC)
    for number in range(days):
        level = rng.choice(songs)
        made = make_exercise(level.recipe, number, level)
        text = format_chart(with_slips(made.chart, rng))
        lags = [rng.uniform(2, 9) for _ in made.chart.bars()]
        clock.pass_(days=1)
        answered(drills, made, text, stamps=in_time(made, text, lags))


def make(folder: Path, bars: int = BARS) -> int:
    """Make the record; how many bars it has."""
    with Store(folder) as store:
        record_days(store, store.learners.get_or_add(NAME, LAST))
    with closing(sqlite3.connect(folder / FILE_NAME)) as connection:
        own = connection.execute("SELECT count(*) FROM bar_results").fetchone()[0]
        for copy in range(1, -(-bars // own)):
            _copy(connection, copy, f"-{DAYS * (copy // SAME_DAY)} days")
        connection.commit()
        found: int = connection.execute("SELECT count(*) FROM bar_results").fetchone()[0]
        connection.execute("PRAGMA optimize")
    return found


def _copy(connection: sqlite3.Connection, copy: int, shift: str) -> None:
    """The first attempts once more, so many days earlier, with all that hangs on them."""
    values = {"ids": copy * DAYS, "shift": shift, "first": DAYS}
    _insert(
        connection,
        "attempts",
        {
            "id": "id + :ids",
            "day": "date(day, :shift)",
            "started_at": "datetime(started_at, :shift)",
            "finished_at": "datetime(finished_at, :shift)",
            "token": "NULL",
        },
        "id <= :first",
        values,
    )
    for table in ("submissions", "bar_results"):
        _insert(
            connection, table, {"attempt_id": "attempt_id + :ids"}, "attempt_id <= :first", values
        )
    recent = f"day > date('{LAST.date()}', '-{DAYS} days')"
    for table, (keys, sums) in DAY_TABLES.items():
        adding = ", ".join(f"{name} = {name} + excluded.{name}" for name in sums)
        conflict = f"ON CONFLICT (learner_id, day, {keys}) DO UPDATE SET {adding}"
        if copy >= SAME_DAY:
            _insert(connection, table, {"day": "date(day, :shift)"}, recent, values, conflict)
    if copy % SAME_DAY == 0:
        _insert(connection, "rating_days", {"day": "date(day, :shift)"}, recent, values)


def _insert(
    connection: sqlite3.Connection,
    table: str,
    changes: dict[str, str],
    where: str,
    values: dict[str, object],
    conflict: str = "",
) -> None:
    names = [f'"{row[1]}"' for row in connection.execute(f"PRAGMA table_info({table})")]
    taken = [changes.get(name.strip('"'), changes.get(name, name)) for name in names]
    connection.execute(
        f"INSERT INTO {table} ({', '.join(names)}) "
        f"SELECT {', '.join(taken)} FROM {table} WHERE {where} {conflict}",
        values,
    )


if __name__ == "__main__":
    wanted = int(sys.argv[2]) if len(sys.argv) > 2 else BARS
    sys.stdout.write(f"{make(Path(sys.argv[1]), wanted):,} bars\n")
