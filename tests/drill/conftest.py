"""A learner at work: the store, a clock that is set by hand, and the drills over both."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.drill.evening import Clock
from tests.patience import PATIENCE_S
from tests.store.samples import NOW
from trainer.drill import Drills
from trainer.store import Learner, Store


@pytest.fixture
def fresh_store(location: Path | str) -> Iterator[Store]:
    """A store with nothing in it."""
    with Store(location, wait_s=PATIENCE_S) as store:
        yield store


@pytest.fixture
def two_stores(location: Path | str) -> Iterator[tuple[Store, Store]]:
    """Two stores with the same database open."""
    with Store(location, wait_s=PATIENCE_S) as first, Store(location, wait_s=PATIENCE_S) as second:
        yield first, second


@pytest.fixture
def learner(fresh_store: Store) -> Learner:
    """A learner in the fresh store."""
    return fresh_store.learners.add("Wren Halloway", NOW)


@pytest.fixture
def clock() -> Clock:
    """The learner's clock, at the beginning of the evening."""
    return Clock(NOW)


@pytest.fixture
def drills(fresh_store: Store, learner: Learner, clock: Clock) -> Drills:
    """The learner's drills; the learner lives by UTC."""
    return Drills(fresh_store, learner, clock, NOW.tzinfo)
