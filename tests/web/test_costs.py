"""What an answer costs, in counts that hold on every machine."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import Engine, event

from tests.web.evenings import evenings
from tests.web.helpers import begin
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
    assert "You've tried it" in first
    other = practised.store.learners.add("Zoë Ångström", practised.clock())
    practised.store.learners.caution_shown(other, practised.clock())
    client.post("/learners/choose", data={"uid": other.uid})
    assert "You've tried it" not in client.get("/").text


LINE = re.compile(r'<div data-key="(\w+)"(></div>)?')
LONG = "Verse:\n" + "1 4 5 6- 2- 5/7 1 1\n" * 15


def draw(client: TestClient, exercise_id: str, text: str, shown: str = "") -> list[tuple[str, str]]:
    """The lines of the sheet of a text: their keys, and "" after each that is sent whole."""
    headers = {"shown-lines": shown} if shown else {}
    answer = client.post(f"/preview/{exercise_id}", content=text, headers=headers)
    return LINE.findall(answer.raise_for_status().text)


def test_a_keystroke_draws_one_line(client: TestClient) -> None:
    """Of a chart of 120 bars, one more bar at its end is one line to draw and one to send; of the
    other lines the page hears only that they are as before."""
    from trainer.web.context import _line_html

    exercise_id = begin(client, level="3", seed="1")
    shown = [key for key, _ in draw(client, exercise_id, f"{LONG}1")]
    before = _line_html.cache_info().misses
    lines = draw(client, exercise_id, f"{LONG}1 4", " ".join(shown))
    assert _line_html.cache_info().misses == before + 1
    assert [key for key, _ in lines[:-1]] == shown[:-1]
    assert [key for key, rest in lines if not rest] == [lines[-1][0]]
    whole = client.post(f"/preview/{exercise_id}", content=f"{LONG}1 4").text
    part = client.post(
        f"/preview/{exercise_id}", content=f"{LONG}1 4", headers={"shown-lines": " ".join(shown)}
    ).text
    assert len(part) * 10 < len(whole)


def test_a_key_says_what_a_line_shows(client: TestClient) -> None:
    """Two lines have the same key when they are the same in every respect, for whoever asks: other
    chords, phrases, messages or places in the text change it."""
    first, second = (begin(client, level="3", seed=seed) for seed in "12")
    key = draw(client, first, "1 4 5")[0][0]
    assert draw(client, first, "1 4 5\n1")[0][0] == key
    assert draw(client, second, "1 4 5")[0][0] == key
    others = {draw(client, first, text)[-1][0] for text in ("1 4 . 5", "1 4 x", "\n1 4 5", "1 4 6")}
    assert len(others | {key}) == 5


def test_names_of_lines_that_are_none(client: TestClient) -> None:
    """Whatever else a request names as shown changes nothing."""
    exercise_id = begin(client, level="3", seed="1")
    whole = draw(client, exercise_id, "1 4 5")
    assert draw(client, exercise_id, "1 4 5", "a b ' < 00") == whole


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
