"""A learner's songbook over a store and a clock that is set by hand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.drill.evening import Clock
from tests.store.samples import NOW
from trainer.songbook import Songbook
from trainer.store import Store


@pytest.fixture
def store(sqlite_location: Path) -> Iterator[Store]:
    """A store with nothing in it."""
    with Store(sqlite_location, wait_s=5) as store:
        yield store


@pytest.fixture
def clock() -> Clock:
    """The learner's clock."""
    return Clock(NOW)


@pytest.fixture
def book(store: Store, clock: Clock) -> Songbook:
    """The songbook of a learner."""
    return Songbook(store, store.learners.add("Wren Halloway", NOW), clock)


@pytest.fixture
def far(tmp_path: Path, clock: Clock) -> Iterator[Songbook]:
    """The songbook of a learner on another machine."""
    with Store(tmp_path / "far", wait_s=5) as store:
        yield Songbook(store, store.learners.add("Wren Halloway", NOW), clock)


@pytest.fixture
def other(store: Store, clock: Clock) -> Songbook:
    """The songbook of another learner of the same store."""
    return Songbook(store, store.learners.add("Zoë Ångström", NOW), clock)
