"""Stores for the tests: those that speak of a file are SQLite's, the rest is tried on both."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.patience import PATIENCE_S
from tests.store.samples import NOW, exercise
from trainer.store import ExerciseRecord, Learner, Store


@pytest.fixture
def fresh_store(location: Path | str) -> Iterator[Store]:
    """A store with nothing in it, once for each kind of database."""
    with Store(location, wait_s=0.1) as store:
        yield store


@pytest.fixture
def learner(fresh_store: Store) -> Learner:
    """A learner in the fresh store."""
    return fresh_store.learners.get_or_add("Wren Halloway", NOW)


@pytest.fixture
def kept(fresh_store: Store, learner: Learner) -> ExerciseRecord:
    """An exercise of the learner in the fresh store."""
    return fresh_store.exercises.keep(learner, exercise())


@pytest.fixture
def two_stores(location: Path | str) -> Iterator[tuple[Store, Store]]:
    """Two stores with the same database open."""
    with Store(location, wait_s=PATIENCE_S) as first, Store(location, wait_s=PATIENCE_S) as second:
        yield first, second
