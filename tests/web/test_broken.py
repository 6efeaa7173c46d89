"""What is stored may be damaged or odd: every page then says so, and none breaks."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from typing import Any

import pytest
from fastapi.testclient import TestClient

from tests.web.conftest import JSON as AS_JSON
from tests.web.helpers import begin, hear_out, keep_text
from trainer.store import Store
from trainer.store.columns import StoredJson
from trainer.store.tables import Chords, metadata
from trainer.web.context import LearnerContext

# Every column that holds JSON, and what it may come to hold.
COLUMNS = [
    (table.name, column.name)
    for table in metadata.sorted_tables
    for column in table.columns
    if isinstance(column.type, StoredJson | Chords)
]
# How many of them have rows after such an evening; damage to the others changes nothing.
FILLED = 9
DAMAGE = ["{", "null", "[]", "{}", "7", '[["x", 7]]']


@pytest.fixture
def places(client: TestClient, context: LearnerContext) -> list[str]:
    """Pages that read all that is stored of an evening: a result, an open drill, a set."""
    result = hear_out(client, begin(client, level="1", seed="1"), "1 4 5 1")
    opened = begin(client, level="2", seed="2")
    keep_text(client, opened, "1 4")
    client.post(f"/write/{opened}/listen")
    client.post("/today/begin")
    return ["/", "/today", "/history", "/speed", "/progress", "/progress/numbers.json",
            "/progress/exercises.csv", "/learners", f"/write/{opened}", result,
            f"{result}/sound?side=played", f"{result.replace('result', 'handout')}/written",
            f"/learners/{context.learner.uid}/delete"]  # fmt: skip


def damage(store: Store, table: str, column: str, value: str) -> int:
    """Put something else into every row of a column; how many rows there are."""
    assert store.path is not None
    with closing(sqlite3.connect(store.path)) as other:
        changed = other.execute(f"UPDATE {table} SET {column} = ?", (value,))
        other.commit()
        return changed.rowcount


@pytest.mark.parametrize("value", DAMAGE)
def test_damaged_json_is_told(
    client: TestClient, store: Store, places: list[str], value: str
) -> None:
    """Whatever stands in a column of JSON, pages are shown or say what is wrong: none of them ends
    in an error of the program, which the client would raise."""
    uid = places[-1].split("/")[2]
    assert store.path is not None
    whole = store.path.with_name("whole")
    with closing(sqlite3.connect(store.path)) as kept, closing(sqlite3.connect(whole)) as copy:
        kept.backup(copy)
    damaged = 0
    for table, column in COLUMNS:
        if not damage(store, table, column, value):
            continue
        damaged += 1
        answers = [client.get(place) for place in places]
        answers.append(client.post(f"/learners/{uid}/export"))
        assert {answer.status_code for answer in answers} <= {200, 422, 503}, (table, column)
        with closing(sqlite3.connect(store.path)) as kept, closing(sqlite3.connect(whole)) as copy:
            copy.backup(kept)
    assert damaged == FILLED


ODD: dict[str, dict[str, Any]] = {
    "nothing": {"score": None},
    "a score of 7": {"score": 7},
    "bars that the song does not have": {"bars": [
        {"reference": 99, "answer": 77, "score": 0.5, "root": 1.0},
        {"reference": None, "answer": None, "score": 0.0},
    ]},
    "no parts": {"parts": {}},
    "weights that count nothing": {"weights": {"root": 0, "quality": 0, "bass": 0}},
    "weights of another version": {"weights": {"root": 2, "groove": 3}},
    "lags that are none": {"speed": {"lag_beats": ["late"]}},
    "a speed without lags": {"speed": {}},
    "advice for bars far away": {"advice_details": [
        {"text": "Listen.", "listen": [900, 901], "listen_answer": None}
    ]},
}  # fmt: skip


@pytest.mark.parametrize("changes", ODD.values(), ids=ODD)
def test_an_odd_report_is_shown_or_told(
    client: TestClient, store: Store, changes: dict[str, Any]
) -> None:
    """A report of another shape is drawn as far as it goes, or the page says what is wrong."""
    result = hear_out(client, begin(client, level="1", seed="1"), "1 4 5 1")
    detail = store.attempts.get(int(result.rpartition("/")[2]))
    assert detail is not None
    damage(store, "submissions", "report", json.dumps({**detail.report, **changes}))
    answer = client.get(result, headers=AS_JSON)
    if answer.status_code == 503:
        assert "found no report" in answer.json()["error"]
    else:
        assert answer.status_code == 200
        assert "Bar by bar" in answer.text
