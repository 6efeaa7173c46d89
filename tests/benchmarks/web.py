"""The page's answers: the sheet while one types, progress with a million bars, what pages weigh.

A million bars are forty real exercises of whole songs, handed in with mistakes, repeated over
three years in the tables themselves; the sums by day are what the store keeps of them.
"""

from __future__ import annotations

import gc
import random
import re
import sqlite3
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import quantiles

from fastapi.testclient import TestClient

from tests.benchmarks import Row, at_least, at_most, seen
from tests.web.evenings import evenings, hand_in_at
from tests.web.fakes import FakeShelf
from trainer.chart import format_chart
from trainer.exercise import load_course, make_exercise
from trainer.generate import Settings, generate
from trainer.store import FILE_NAME, Store
from trainer.web import create_app

BARS = 1_000_000
DAYS = 1_095
SONGS = 40
WEIGHT = 150_000
LONG = 120
PAGES = ("/", "/today", "/speed", "/progress", "/history", "/learners", "/hearing")


def fill(folder: Path, now: datetime) -> int:
    """Put a learner with a million bars in the store of a folder; how many there are."""
    rng = random.Random(1)
    course = [level for level in load_course() if level.recipe.size == "song"]
    with Store.open(folder) as store:
        learner = store.learners.get_or_add("me", now)
        for number in range(SONGS):
            level = course[number % len(course)]
            exercise = make_exercise(level.recipe, number, level)
            at = now - timedelta(days=number)
            hand_in_at(store, learner, exercise, at, 0.2, rng)
        evenings(store, learner, now, range(0, 60, 10), rng)
    with closing(sqlite3.connect(folder / FILE_NAME)) as record, record:
        _repeat(record)
        found: int = record.execute("select count(*) from bar_results").fetchone()[0]
        record.execute("analyze")
    return found


def _repeat(record: sqlite3.Connection) -> None:
    """Repeat what is there: attempts until there are bars enough, sums by day once a shift."""
    made, last = record.execute("select count(*), max(id) from attempts").fetchone()
    bars = record.execute("select count(*) from bar_results").fetchone()[0]
    times = -(-BARS // bars)
    shifts = DAYS // SONGS
    attempts, results = _columns(record, "attempts"), _columns(record, "bar_results")
    # Drawn from what was there first, not from copies.
    for turn in range(1, times):
        days, by = SONGS * (turn % shifts), turn * (last + 1)
        moved = {"id": f"id + {by}", "token": "null", "day": f"date(day, '-{days} days')"}
        for moment in ("started_at", "finished_at"):
            moved[moment] = f"date({moment}, '-{days} days') || substr({moment}, 11)"
        _copy(record, "attempts", attempts, moved, f"id <= {last}")
        place = {"attempt_id": f"attempt_id + {by}"}
        _copy(record, "bar_results", results, place, f"attempt_id <= {last}")
    first = record.execute("select min(day) from rating_days").fetchone()[0]
    for table in ("skill_days", "confusion_days", "rating_days"):
        columns = _columns(record, table)
        for shift in range(1, shifts):
            moved = {"day": f"date(day, '-{SONGS * shift} days')"}
            _copy(record, table, columns, moved, f"day >= '{first}'")
    record.execute("update practice_states set attempts = ?", (made * times,))


def _columns(record: sqlite3.Connection, table: str) -> list[str]:
    return [row[1] for row in record.execute(f"pragma table_info({table})")]


def _copy(
    record: sqlite3.Connection, table: str, columns: list[str], moved: dict[str, str], where: str
) -> None:
    names = ", ".join(f'"{name}"' for name in columns)
    taken = ", ".join(moved.get(name, f'"{name}"') for name in columns)
    record.execute(f"insert or ignore into {table} ({names}) select {taken} from {table} "
                   f"where {where}")  # fmt: skip


def p95_ms(ask: Callable[[], object], times: int) -> float:
    """The 95th percentile of the processor time an answer takes, its client's part in it: nothing
    is waited for."""
    took = []
    for _ in range(times):
        start = time.process_time()
        ask()
        took.append(time.process_time() - start)
    return 1000 * quantiles(took, n=20)[-1]


def preview(client: TestClient) -> Row:
    """The sheet of a chart of 120 bars, typed on bar by bar."""
    rng = random.Random(3)
    chart = next(
        chart for chart in iter(lambda: generate(Settings(), rng), None)
        if len(chart.bars()) >= LONG
    )  # fmt: skip
    text = format_chart(chart)
    begun = client.post("/begin", data={"level": "30", "seed": "1"}, follow_redirects=False)
    place = begun.headers["location"].replace("write", "preview")
    cuts = iter(range(len(text), 0, -1))
    client.post(place, content=text)
    took = p95_ms(lambda: client.post(place, content=text[: next(cuts)]), 100)
    return at_most(
        f"sheet of {len(chart.bars())} bars while typed, 95th percentile", took, 50, "ms"
    )


def progress(client: TestClient) -> list[Row]:
    """The progress page by range, and the other pages that read the record."""
    rows = []
    for name in ("month", "quarter", "year", "all"):
        client.get(f"/progress?time={name}").raise_for_status()
        took = p95_ms(lambda place=name: client.get(f"/progress?time={place}"), 20)  # type: ignore[misc]
        rows.append(at_most(f"progress, {name}, 95th percentile", took, 200, "ms"))
    for place in ("/", "/today", "/speed", "/history"):
        client.get(place).raise_for_status()
        took = p95_ms(lambda where=place: client.get(where), 10)  # type: ignore[misc]
        rows.append(seen(f"page {place} with as many bars, 95th percentile", took, "ms"))
    return rows


def weights(client: TestClient, store: Store) -> list[Row]:
    """What a page weighs with its scripts and styles, unpacked, sound aside."""
    found = [(weight(client, place), place) for place in (*PAGES, longest(store))]
    heaviest, place = max(found)
    return [
        at_most(f"heaviest page ({place})", heaviest / 1000, WEIGHT / 1000, "kB"),
        seen("page to write on", weight(client, written(client)) / 1000, "kB"),
    ]


def written(client: TestClient) -> str:
    """A page to write on."""
    begun = client.post("/begin", data={"level": "30", "seed": "1"}, follow_redirects=False)
    place: str = begun.headers["location"]
    return place


def longest(store: Store) -> str:
    """The result of the longest song handed in; only what was repeated has no papers."""
    found = [store.attempts.get(number) for number in range(1, SONGS + 1)]
    return f"/result/{max((one.record.bars, one.record.id) for one in found if one)[1]}"


def weight(client: TestClient, place: str) -> int:
    """Bytes of a page and all it loads but sound."""
    text = client.get(place).text
    waiting = set(re.findall(r'"(/static/[^"]+)"', text))
    seen_at: dict[str, int] = {}
    while waiting:
        found = waiting.pop()
        answer = client.get(found).raise_for_status()
        seen_at[found] = len(answer.content)
        modules = re.findall(r'from "\./([^"]+)"', answer.text)
        waiting |= {f"/static/{module}" for module in modules} - seen_at.keys()
    return len(text.encode()) + sum(seen_at.values())


def run() -> list[Row]:
    """All rows."""
    now = datetime.now(UTC)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        bars = fill(folder, now)
        with Store.open(folder) as store:
            app = create_app(store, FakeShelf(folder))
            with TestClient(app, headers={"accept": "text/html"}) as client:
                # As the server does when it answers.
                gc.freeze()
                return [
                    preview(client),
                    at_least("bars stored", bars, BARS, ""),
                    *progress(client),
                    *weights(client, store),
                ]
