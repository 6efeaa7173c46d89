"""Asking for a page stores nothing."""

from __future__ import annotations

import itertools
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime

import pytest
from fastapi.testclient import TestClient
from starlette.routing import Route

from tests.web.conftest import HTML
from tests.web.fakes import FakeLibrary
from tests.web.helpers import begin, hand_in, hear_out, keep_text
from trainer.store import Store
from trainer.web import create_app
from trainer.web.app import HOME_PAGES, PAGES
from trainer.web.context import LearnerContext

QUERY = "?speed=80&side=played&time=all&skills=all&kind=1&choice=0&number=1&bars=2"
PARAMETER = re.compile(r"\{(\w+)(?::\w+)?\}")


def contents(store: Store) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table."""
    assert store.path is not None
    with closing(sqlite3.connect(store.path)) as found:
        names = [row[0] for row in found.execute("select name from sqlite_master")]
        tables = [name for name in names if not name.startswith(("sqlite_", "ix_", "uq_"))]
        return {name: sorted(found.execute(f'select * from "{name}"'), key=str) for name in tables}


def get_paths(library: FakeLibrary) -> list[str]:
    """The path of every route that answers GET, but files that never change and `/alive`."""
    routes = [("", route) for page in (*PAGES, *HOME_PAGES) for route in page.router.routes]
    routes += [("/audio", route) for route in library.router.routes]
    found = [(prefix, route) for prefix, route in routes if isinstance(route, Route)]
    return [prefix + route.path for prefix, route in found if "GET" in (route.methods or ())]


def filled(path: str, values: dict[str, list[str]]) -> Iterator[str]:
    """The path with every combination of values for its parameters."""
    names = PARAMETER.findall(path)
    for chosen in itertools.product(*(values[name] for name in names)):
        place = path
        for name, value in zip(names, chosen, strict=True):
            place = re.sub(rf"\{{{name}(?::\w+)?\}}", value, place)
        yield place


def assert_nothing_stored(
    client: TestClient, store: Store, library: FakeLibrary, values: dict[str, list[str]]
) -> int:
    """Ask for everything there is; how many places that were."""
    before = contents(store)
    asked = 0
    for path in get_paths(library):
        for place in filled(path, values):
            for query in (
                "",
                "?speed=80&side=played&time=all&skills=all&kind=1&choice=0&number=1&bars=2",
            ):
                client.get(place + query, follow_redirects=False)
                assert contents(store) == before, place
                asked += 1
    return asked


def values_of(**more: list[str]) -> dict[str, list[str]]:
    """Values for the parameters of paths, of what is not there by itself."""
    values = {"exercise_id": ["nothing"], "attempt_id": ["7"], "uid": ["nobody"], "name": ["x"],
              "side": ["played", "written"], "kind": ["wav"], "lesson_id": ["hold"],
              "run_id": ["9"], "sign_id": ["push"]}  # fmt: skip
    return {name: values.get(name, []) + more.get(name, []) for name in values | more}


def test_all_routes_are_walked(library: FakeLibrary) -> None:
    """The walk knows the pages by their addresses."""
    paths = set(get_paths(library))
    assert {"/", "/today", "/write/{exercise_id}", "/result/{attempt_id}", "/learners/{uid}/delete",
            "/progress/numbers.json", "/history", "/hearing", "/speed",
            "/lessons/{lesson_id}/{run_id}", "/what-is-a-chart/sound",
            "/audio/{name}.wav"} <= paths  # fmt: skip


def test_reading_stores_nothing(
    client: TestClient, context: LearnerContext, library: FakeLibrary
) -> None:
    """No GET changes a row of any table: with a drill open, answered, or never begun here, before
    and after the day's set is begun, and with ratings of an older model."""
    opened = begin(client, level="2", seed="2")
    keep_text(client, opened, "1 4")
    answered = begin(client, level="1", seed="1")
    place = hear_out(client, answered, "1 4 5 1")
    run = client.post("/lessons/hold/begin", follow_redirects=False).headers["location"]
    client.post(run, data={"number": "1", "choice": "0"})
    values = values_of(
        run_id=[run.rpartition("/")[2]],
        exercise_id=[opened, answered],
        attempt_id=[place.removeprefix("/result/")],
        uid=[context.learner.uid],
    )
    assert assert_nothing_stored(client, context.store, library, values) > 50
    client.post("/today/begin")
    with context.store.transaction() as store:
        store.ratings.clear(context.learner)
    assert_nothing_stored(client, context.store, library, values)


@pytest.mark.parametrize("is_known", [False, True])
def test_a_stranger_is_not_added_by_reading(
    stranger: TestClient,
    store: Store,
    library: FakeLibrary,
    fixed_now: datetime,
    is_known: bool,
) -> None:
    """A learner who is not known, or was not shown the caution, is neither added nor changed."""
    if is_known:
        store.learners.add("Ada Ferrier", fixed_now)
    assert_nothing_stored(stranger, store, library, values_of())


def test_ratings_of_an_older_model_are_made_again_at_the_start(
    client: TestClient, context: LearnerContext, library: FakeLibrary
) -> None:
    """Everybody's ratings are there once the page is made, as the attempts give them."""
    hand_in(client, begin(client, level="1", seed="1"), "1 4 5 1")
    store, learner = context.store, context.learner
    before = store.ratings.state(learner)
    with store.transaction() as within:
        within.ratings.clear(learner)
    assert store.ratings.state(learner) is None
    with TestClient(create_app(store, library), headers=HTML):
        assert store.ratings.state(learner) == before
