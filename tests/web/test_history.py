from __future__ import annotations

import random
import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient

from tests.web.evenings import hand_in_at
from tests.web.helpers import begin, exercise_of, hand_in
from trainer.exercise import make_exercise, recipe_from_dict
from trainer.practice import speed_test
from trainer.store import AttemptRecord
from trainer.web.context import LearnerContext
from trainer.web.history import PAGE, history_view

NOW = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
ONE = AttemptRecord(
    id=1, learner_id=1, exercise_id="a", level=1, title="Ferry Bell", origin="generated",
    level_id="home-four-five",
    started_at=NOW, finished_at=NOW, day=NOW.date(), duration_s=60.0, score=0.5, bars=4, listens=2,
    paused=False, tempo_ratio=1.0, first_pass=False, lag_beats=None, app_version="0", token=None,
)  # fmt: skip
ATTEMPTS = [
    replace(ONE, id=1, score=0.7, title="b", level=2, level_id="six-minor", listens=3),
    replace(ONE, id=2, score=0.9, title="A", level=None, level_id=None, origin="song", listens=1,
            exercise_id="song", finished_at=NOW + timedelta(1)),
    replace(ONE, id=3, score=0.8, title="c", level=None, level_id=None, exercise_id="own",
            finished_at=NOW + timedelta(2)),
]  # fmt: skip
KINDS_OF = {"song": "song", "own": "recipe"}


def ids(**how: object) -> list[int]:
    """The attempts of a view, by number."""
    return [one.id for one in history_view(ATTEMPTS, KINDS_OF, **how).attempts]  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("order", "found"),
    [("when", [3, 2, 1]), ("song", [2, 1, 3]), ("level", [2, 3, 1]), ("score", [2, 3, 1]),
     ("listens", [2, 3, 1]), ("unknown", [3, 2, 1])],
)  # fmt: skip
def test_attempts_are_sorted(order: str, found: list[int]) -> None:
    """Each order sorts by its value; newest and best come first, names without regard to case."""
    assert ids(order=order) == found


def test_an_order_is_turned() -> None:
    """Asked again, an order goes the other way round."""
    assert ids(order="score", reverse=True) == [1, 3, 2]


@pytest.mark.parametrize(
    ("kind", "found"),
    [("", [3, 2, 1]), ("2", [1]), ("songs", [2]), ("recipes", [3]), ("77", []), ("?", [3, 2, 1])],
)
def test_attempts_are_filtered(kind: str, found: list[int]) -> None:
    """A level's attempts, those on songs, those on own recipes; what is no kind filters nothing."""
    assert ids(kind=kind) == found


def test_a_page_at_a_time() -> None:
    """Pages follow each other without a gap; beyond the last is the last."""
    many = [replace(ONE, id=k, finished_at=NOW + timedelta(k)) for k in range(2 * PAGE + 1)]
    pages = [history_view(many, {}, page=page) for page in (1, 2, 3, 99)]
    assert [len(page.attempts) for page in pages] == [PAGE, PAGE, 1, 1]
    seen = [one.id for page in pages[:3] for one in page.attempts]
    assert seen == list(range(2 * PAGE, -1, -1))
    assert pages[3].page == 3


def test_the_history_page(client: TestClient) -> None:
    """Each attempt stands with its score and leads to its result."""
    assert "haven't written anything yet" in client.get("/history").text
    place = hand_in(client, begin(client, level="1", seed="1"), "1 4 5 1")
    page = client.get("/history?order=score&reverse=1&page=x&kind=1").text
    assert f'href="{place}"' in page
    assert "1 attempt" in page
    assert "haven't written any of these" in client.get("/history?kind=songs").text


def test_the_newest_are_read_a_page_at_a_time(
    client: TestClient, context: LearnerContext, fixed_now: datetime, rng: random.Random
) -> None:
    """The usual order and the same order asked for by way of sorting show the same attempts, of
    all levels or one, on every page; a level that is none shows none."""
    exercise = exercise_of(1)
    for number in range(PAGE + 3):
        at = fixed_now - timedelta(days=number)
        hand_in_at(context.store, context.learner, exercise, at, 0.0, rng)
    everything = context.store.attempts.history(context.learner, limit=1000)
    for kind in ("", "1"):
        for page in (1, 2, 9):
            told = client.get("/history", params={"kind": kind, "page": str(page)}).text
            view = history_view(everything, {}, kind=kind, page=page)
            found = [int(number) for number in re.findall(r'href="/result/(\d+)"', told)]
            assert found == [one.id for one in view.attempts]
            assert f"Page {view.page} of {view.pages}" in told
    assert "haven't written any of these" in client.get("/history?kind=77").text


def test_each_kind_is_named(
    client: TestClient, context: LearnerContext, fixed_now: datetime, rng: random.Random
) -> None:
    """Placement, sets, speed tests, songs and own recipes are told apart, in the table and by the
    filter; own recipes are nothing else."""
    assert client.post("/today/begin", follow_redirects=False).status_code == 303
    placing = context.exercise(context.sets.items[0].exercise_id or "").exercise
    own = make_exercise(recipe_from_dict({"chords": ["1", "4"], "size": "phrase"}, "own"), 3)
    made = [placing, speed_test(1), context.songs[0], own, exercise_of(2)]
    numbers = [
        hand_in_at(context.store, context.learner, each, fixed_now - timedelta(hours=n), 0.0, rng)
        for n, each in enumerate(made)
    ]
    names = ["finding your level", "speed test", "song", "recipe", "level 2"]
    page = client.get("/history").text
    assert [f"<td>{name}</td>" in page for name in names] == [True] * len(names)
    asked = ["placement", "speed", "songs", "recipes", "2"]
    for kind, number in zip(asked, numbers, strict=True):
        told = client.get("/history", params={"kind": kind}).text
        assert re.findall(r'href="/result/(\d+)"', told) == [str(number)]
