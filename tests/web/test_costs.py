"""What an answer costs, in counts that hold on every machine."""

from __future__ import annotations

import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import Engine, event

from tests.web.evenings import evenings
from trainer.drill import exercise_kinds
from trainer.exercise import load_course, load_lessons
from trainer.store import Store
from trainer.web.context import LearnerContext

# Queries that each page may send, the one for the learner with them.
MOST_QUERIES = {"/": 7, "/today": 5, "/speed": 5, "/history": 6}


@contextmanager
def counted_queries() -> Iterator[list[str]]:
    """The queries sent to any database meanwhile."""
    sent: list[str] = []

    def note(_: Any, __: Any, statement: str, *___: Any) -> None:
        if statement.startswith("SELECT"):
            sent.append(statement)

    event.listen(Engine, "before_cursor_execute", note)
    try:
        yield sent
    finally:
        event.remove(Engine, "before_cursor_execute", note)


@pytest.fixture
def practised(context: LearnerContext, fixed_now: datetime) -> LearnerContext:
    """A learner with ten evenings on record."""
    evenings(context.store, context.learner, fixed_now, range(10), random.Random(1))
    return context


def test_a_page_asks_for_little(client: TestClient, practised: LearnerContext) -> None:
    """No page sends more queries than it needs."""
    for place, most in MOST_QUERIES.items():
        client.get(place)
        with counted_queries() as sent:
            client.get(place).raise_for_status()
        assert len(sent) <= most, (place, sent)


def test_a_begun_set_costs_two_queries_more(client: TestClient, practised: LearnerContext) -> None:
    """What became of today's exercises is asked for once for all of them."""
    begin_today = client.post("/today/begin", follow_redirects=False).headers["location"]
    client.put(f"{begin_today}/draft", data={"text": "1 4"})
    client.get("/today")
    with counted_queries() as sent:
        page = client.get("/today").text
    assert "started" in page
    assert len(sent) <= MOST_QUERIES["/today"] + 2


def test_a_level_is_drawn_once(client: TestClient, practised: LearnerContext) -> None:
    """The levels on the start page are rendered again only when the learner stands otherwise with
    them, and for each learner as that learner stands."""
    from trainer.web.start import _level_item

    first = client.get("/").text
    before = _level_item.cache_info().misses
    assert client.get("/").text == first
    assert _level_item.cache_info().misses == before
    assert "best " in first
    other = practised.store.learners.add("Zoë Ångström", practised.clock())
    practised.store.learners.caution_shown(other, practised.clock())
    client.post("/learners/choose", data={"uid": other.uid})
    assert "best " not in client.get("/").text


def test_a_hash_reads_no_charts() -> None:
    """Lessons and levels are keys by their ids: the hash of one whose charts are gone is the
    same."""
    lesson, level = load_lessons()[0], load_course()[0]
    assert hash(lesson) == hash(replace(lesson, lines=()))
    assert hash(level) == hash(replace(level, skills=()))
    assert lesson != replace(lesson, lines=())


def test_kinds_of_a_page(practised: LearnerContext) -> None:
    """The kinds of a few attempts are those that they have among all."""
    store, learner = practised.store, practised.learner
    newest = store.attempts.history(learner, limit=12)
    kinds = exercise_kinds(store, learner)
    shown = exercise_kinds(store, learner, newest)
    wanted = {one.exercise_id for one in newest if one.level_id is None}
    assert wanted
    assert shown == {key: kinds[key] for key in wanted}
    assert exercise_kinds(store, learner, []) == {}


def test_whether_there_is_anything(store: Store, practised: LearnerContext) -> None:
    """`has_any` and `levels` say of the record what the whole history says."""
    learner = practised.learner
    other = store.learners.add("Zoë Ångström", practised.clock())
    history = store.attempts.history(learner, limit=1000)
    assert store.attempts.has_any(learner)
    assert not store.attempts.has_any(other)
    assert store.attempts.levels(learner) == {one.level_id for one in history} - {None}
    assert store.attempts.levels(other) == frozenset()
