"""The page in-process: a fresh record, tones for sound, a clock that stands still."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tests.databases import put_store
from tests.web.fakes import FakeLibrary
from trainer.store import Store
from trainer.web import create_app
from trainer.web.context import LearnerContext, PageContext

HTML = {"accept": "text/html"}
JSON = {"accept": "application/json"}


@pytest.fixture
def store(record: Path) -> Iterator[Store]:
    """A record that is empty."""
    with Store.open(record) as opened:
        yield opened


@pytest.fixture
def library(tmp_path: Path) -> FakeLibrary:
    """A library of tones."""
    folder = tmp_path / "audio"
    folder.mkdir()
    return FakeLibrary(folder)


@contextmanager
def _browser(store: Store, library: FakeLibrary, now: datetime) -> Iterator[TestClient]:
    """A browser at a page over a store."""
    app = create_app(store, library, now=lambda: now)
    with TestClient(app, headers=HTML) as client:
        yield client


@pytest.fixture
def stranger(store: Store, library: FakeLibrary, fixed_now: datetime) -> Iterator[TestClient]:
    """A browser whose learner has never been here."""
    with _browser(store, library, fixed_now) as client:
        yield client


@pytest.fixture(scope="module")
def shared_client(
    tmp_path_factory: pytest.TempPathFactory, sqlite_template: Path, fixed_now: datetime
) -> Iterator[TestClient]:
    """As `client`, one for all tests of a file: for those that only look."""
    folder = tmp_path_factory.mktemp("shared")
    with (
        Store.open(put_store(sqlite_template, folder / "record")) as store,
        _browser(store, FakeLibrary(folder), fixed_now) as client,
    ):
        store.learners.caution_shown(store.learners.get_or_add("me", fixed_now), fixed_now)
        yield client


@pytest.fixture
def client(stranger: TestClient, store: Store, fixed_now: datetime) -> TestClient:
    """A browser whose learner has read the caution."""
    store.learners.caution_shown(store.learners.get_or_add("me", fixed_now), fixed_now)
    return stranger


@pytest.fixture
def context(client: TestClient) -> LearnerContext:
    """What the pages of that browser work with."""
    return context_of(client)


def context_of(client: TestClient) -> LearnerContext:
    """What the pages of a browser whose learner is "me" work with."""
    found: PageContext = client.app.state.context  # type: ignore[attr-defined]
    learner = found.store.learners.get("me")
    assert learner is not None
    return LearnerContext(found.store, found.audio, found.clock, found.owner, learner)
