"""The page's answers: the sheet while one types, progress with a million bars, what pages weigh."""

from __future__ import annotations

import gc
import random
import re
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from statistics import quantiles

from fastapi.testclient import TestClient

from tests.benchmarks import Row, at_most, seen
from tests.benchmarks.million import LAST, NAME, make
from tests.web.evenings import mistaken
from tests.web.fakes import FakeLibrary
from tests.web.helpers import begin, hand_in
from trainer.chart import format_chart
from trainer.exercise import load_course, make_exercise
from trainer.generate import Settings, generate
from trainer.store import Store
from trainer.web import create_app

WEIGHT = 150_000
LONG = 120
PAGES = ("/", "/today", "/speed", "/progress", "/history", "/learners", "/hearing")


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
    place = f"/preview/{begin(client, level='52', seed='1')}"
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
        address = f"/progress?time={name}"
        client.get(address).raise_for_status()
        took = p95_ms(lambda where=address: client.get(where), 20)  # type: ignore[misc]
        said = f"progress, {name}, a million bars, 95th percentile"
        rows.append(at_most(said, took, 200, "ms"))
    for place in ("/", "/today", "/speed", "/history"):
        client.get(place).raise_for_status()
        took = p95_ms(lambda where=place: client.get(where), 10)  # type: ignore[misc]
        rows.append(seen(f"page {place} with as many bars, 95th percentile", took, "ms"))
    return rows


def weights(client: TestClient) -> list[Row]:
    """What a page weighs with its scripts and styles, unpacked, sound aside."""
    found = [(weight(client, place), place) for place in (*PAGES, result(client))]
    heaviest, place = max(found)
    sheet = f"/write/{begin(client, level='52', seed='2')}"
    return [
        at_most(f"heaviest page ({place})", heaviest / 1000, WEIGHT / 1000, "kB"),
        seen("page to write on", weight(client, sheet) / 1000, "kB"),
        seen("the same as it is sent", weight(client, sheet, sent=True) / 1000, "kB"),
    ]


def result(client: TestClient) -> str:
    """The result of a long song, with half of its chords wrong."""
    exercise_id = begin(client, level="52", seed="1")
    level = load_course()[51]
    chart = mistaken(make_exercise(level.recipe, 1, level).chart, 0.5, random.Random(2))
    return hand_in(client, exercise_id, format_chart(chart))


def weight(client: TestClient, place: str, *, sent: bool = False) -> int:
    """Bytes of a page and all it loads but sound, unpacked or as they are `sent`."""
    text = client.get(place).text
    waiting = set(re.findall(r'"(/static/[^"]+)"', text))
    seen_at: dict[str, int] = {}
    while waiting:
        found = waiting.pop()
        answer = client.get(found).raise_for_status()
        seen_at[found] = int(answer.headers["content-length"]) if sent else len(answer.content)
        modules = re.findall(r'from "\./([^"]+)"', answer.text)
        waiting |= {f"/static/{module}" for module in modules} - seen_at.keys()
    return len(text.encode()) + sum(seen_at.values())


def run() -> list[Row]:
    """All rows."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        bars = make(folder)
        with Store.open(folder) as store:
            store.learners.caution_shown(store.learners.get_or_add(NAME, LAST), LAST)
            app = create_app(store, FakeLibrary(folder), now=lambda: LAST, learner=NAME)
            with TestClient(app, headers={"accept": "text/html"}) as client:
                # As the server does when it answers.
                gc.freeze()
                return [
                    preview(client),
                    seen("bars stored", bars, ""),
                    *progress(client),
                    *weights(client),
                ]
