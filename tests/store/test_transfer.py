from __future__ import annotations

import copy
import csv
import io
import json
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.store.samples import NOW, exercise, hand_in
from trainer.errors import FileError, StoreError
from trainer.store import ExerciseRecord, Learner, Store


@pytest.fixture
def data(fresh_store: Store, learner: Learner, kept: ExerciseRecord) -> dict[str, Any]:
    """An export that went through a file: two exercises, three attempts, a draft."""
    second = fresh_store.exercises.keep({**exercise(2), "seed": None})
    for minutes, what in enumerate((kept, second, kept)):
        hand_in(fresh_store, learner, what, NOW + timedelta(minutes=minutes), token=f"t{minutes}")
    fresh_store.drafts.save(learner, second, "1 ♭7", NOW)
    whole: dict[str, Any] = json.loads(json.dumps(fresh_store.transfer.export_json(learner)))
    return whole


@pytest.fixture
def other_store(tmp_path: Path) -> Iterator[Store]:
    """An empty store elsewhere."""
    with Store(tmp_path / "other") as store:
        yield store


def test_what_goes_out_comes_in_the_same(
    fresh_store: Store, other_store: Store, learner: Learner, data: dict[str, Any]
) -> None:
    """An export imported elsewhere exports the same, with the same progress."""
    done = other_store.transfer.import_json(data)
    assert (done.learner.name, done.added, done.known) == (learner.name, 3, 0)
    assert other_store.transfer.export_json(done.learner) == data
    for read in ("skills", "confusions", "days"):
        mine, theirs = (
            getattr(store.progress, read)(who)
            for store, who in ((fresh_store, learner), (other_store, done.learner))
        )
        assert mine == theirs
        assert mine


def test_importing_twice_adds_nothing(other_store: Store, data: dict[str, Any]) -> None:
    """What is there already stays as it is."""
    first = other_store.transfer.import_json(data)
    second = other_store.transfer.import_json(data)
    assert (second.added, second.known) == (0, 3)
    assert other_store.transfer.export_json(first.learner) == data


def test_importing_under_another_name(fresh_store: Store, data: dict[str, Any]) -> None:
    """The data may be given to a learner of another name beside the first."""
    done = fresh_store.transfer.import_json(data, name="Odell Pruitt")
    assert (done.learner.name, done.added) == ("Odell Pruitt", 3)
    assert len(fresh_store.learners.all()) == 2


BREAKS: dict[str, tuple[list[Any], Any, str]] = {
    "format": (["format"], "x", "found format 'x'"),
    "version": (["version"], 2, "version 2, expected"),
    "no list": (["attempts"], {}, "import, attempts: found dict, expected a list"),
    "no name": (["learner"], {"created_at": NOW.isoformat()}, "import, learner: found no 'name'"),
    "a number": (["attempts", 2], 5, r"import, attempts\[2\]:"),
    "a text for a score": (["attempts", 1, "score"], "1", r"attempts\[1\]: score: found '1'"),
    "truth for a number": (["attempts", 1, "listens"], True, "listens: found True, expected int"),
    "null": (["attempts", 0, "paused"], None, "paused: found None, expected bool"),
    "no time": (["attempts", 0, "finished_at"], "soon", "Invalid isoformat string"),
    "naive time": (["attempts", 0, "started_at"], "2026-01-01T00:00:00", "without a time zone"),
    "bad bar": (["attempts", 2, "bar_results", 0, "root"], [], r"attempts\[2\]: root: found \[\]"),
    "no exercise": (["exercises", 1, "data"], {"id": "x"}, r"exercises\[1\]: .*found no chart"),
    "draft": (["drafts", 0, "updated_at"], 3, r"import, drafts\[0\]: "),
}


@pytest.mark.parametrize(("path", "value", "said"), BREAKS.values(), ids=BREAKS)
def test_a_bad_import_changes_nothing(
    other_store: Store, data: dict[str, Any], path: list[Any], value: object, said: str
) -> None:
    """Data that is not an export is refused with its place, and none of it is stored."""
    broken = place = copy.deepcopy(data)
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    with pytest.raises(FileError, match=said):
        other_store.transfer.import_json(broken)
    assert other_store.learners.all() == ()
    assert other_store.exercises.get("millrace-1") is None


def test_an_import_without_its_exercise_changes_nothing(
    other_store: Store, data: dict[str, Any]
) -> None:
    """An attempt whose exercise is not in the data is refused as a whole."""
    with pytest.raises(StoreError, match="nothing was stored"):
        other_store.transfer.import_json({**data, "exercises": data["exercises"][:1]})
    assert other_store.learners.all() == ()


def test_history_as_csv(fresh_store: Store, learner: Learner, data: dict[str, Any]) -> None:
    """The CSV has a header and a row for each attempt, oldest first, as people read them."""
    out = io.StringIO()
    csv.writer(out).writerows(fresh_store.transfer.csv_rows(learner))
    rows = list(csv.DictReader(io.StringIO(out.getvalue())))
    assert [row["exercise"] for row in rows] == ["millrace-1", "millrace-2", "millrace-1"]
    assert rows[0] == {
        "finished_at": "2026-03-02T19:30:00+00:00",
        "title": "Lantern on the Levee",
        "level": "3",
        "exercise": "millrace-1",
        "score": "0.6250",
        "bars": "4",
        "minutes": "2.00",
        "listens": "1",
        "first_pass": "no",
        "paused": "no",
        "tempo_ratio": "1",
        "lag_beats": "2.00",
    }
