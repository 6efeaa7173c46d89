"""While one request waits for the database, or works long, others are answered."""

from __future__ import annotations

import re
import sqlite3
import threading
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import httpx
import pytest

from tests.patience import PATIENCE_S
from tests.web.browser.house import House
from tests.web.fakes import FakeLibrary
from trainer.drill import Drills
from trainer.exercise import load_course, make_exercise, read_answer
from trainer.store import Store
from trainer.web import write

LEVEL = load_course()[0]


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    """A server whose learner has begun an exercise and listens to it."""
    (tmp_path / "audio").mkdir()
    with Store.open(tmp_path / "record", wait_s=PATIENCE_S) as store:
        now = datetime.now(UTC)
        store.learners.caution_shown(store.learners.get_or_add("me", now), now)
        made = House(store, FakeLibrary(tmp_path / "audio"))
        drill = made.drills.begin(make_exercise(LEVEL.recipe, 1, LEVEL))
        made.drills.listen(drill.record.key)
        made.open()
        yield made
        made.close()


@pytest.fixture
def client(house: House) -> Iterator[httpx.Client]:
    """A browser at that server."""
    accept = {"accept": "text/html"}
    with httpx.Client(
        base_url=house.url, headers=accept, trust_env=False, timeout=PATIENCE_S
    ) as opened:
        yield opened


@contextmanager
def write_lock(store: Store) -> Iterator[None]:
    """Another program that is writing to the same file."""
    assert store.path is not None
    with closing(sqlite3.connect(store.path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        yield
        other.execute("ROLLBACK")


def when_called(monkeypatch: pytest.MonkeyPatch, owner: Any, name: str) -> threading.Event:
    """An event that is set when `owner.name` is called."""
    called, before = threading.Event(), getattr(owner, name)

    def calling(*given: Any, **named: Any) -> Any:
        called.set()
        return before(*given, **named)

    monkeypatch.setattr(owner, name, calling)
    return called


WRITES = {
    "keep_text": ("PUT", "draft", {"text": "1 4 5"}),
    "heard": ("POST", "heard?position_s=2.5", {}),
    "listen": ("POST", "listen", {}),
}


@pytest.mark.parametrize("name", WRITES)
def test_others_are_answered_while_a_write_waits(
    house: House, client: httpx.Client, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """While another program holds the file's write lock, what the page stores waits, and pages and
    sounds are answered before the lock is released; then it is stored."""
    exercise_id = make_exercise(LEVEL.recipe, 1, LEVEL).id
    sound = re.findall(r'"(/audio/[^"]+)"', client.get(f"/write/{exercise_id}").text)[0]
    called = when_called(monkeypatch, Drills, name)
    method, place, data = WRITES[name]
    with ThreadPoolExecutor() as pool:
        with write_lock(house.store):
            waiting = pool.submit(
                client.request, method, f"/write/{exercise_id}/{place}", data=data or None
            )
            assert called.wait(PATIENCE_S)
            answers = [client.get(each).status_code for each in ("/", sound, "/alive")]
            assert not waiting.done()
        assert answers == [200, 200, 204]
        assert waiting.result(PATIENCE_S).is_success


def test_others_are_answered_while_a_sheet_is_drawn(
    house: House, client: httpx.Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However long a text takes to be read and drawn, other pages are answered meanwhile."""
    exercise_id = make_exercise(LEVEL.recipe, 1, LEVEL).id
    begun, may_end, before = threading.Event(), threading.Event(), read_answer

    def slowly(*given: Any) -> Any:
        begun.set()
        assert may_end.wait(PATIENCE_S)
        return before(*given)

    monkeypatch.setattr(write, "read_answer", slowly)
    with ThreadPoolExecutor() as pool:
        drawing: Future[httpx.Response] = pool.submit(
            client.post, f"/preview/{exercise_id}", content="1 4 5"
        )
        try:
            assert begun.wait(PATIENCE_S)
            assert client.get("/").status_code == 200
            assert not drawing.done()
        finally:
            may_end.set()
        assert 'class="bar' in drawing.result(PATIENCE_S).text
