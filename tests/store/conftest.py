from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.store.samples import NOW, exercise
from trainer.store import ExerciseRecord, Learner, Store


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A data folder that does not exist yet, with a name that needs care in URLs."""
    return tmp_path / "Töne & 100% ?mode=ro #1"


@pytest.fixture
def fresh_store(folder: Path) -> Iterator[Store]:
    """A store in a new file."""
    with Store(folder, wait_s=0.1) as store:
        yield store


@pytest.fixture
def learner(fresh_store: Store) -> Learner:
    """A learner in the fresh store."""
    return fresh_store.learners.get_or_add("Wren Halloway", NOW)


@pytest.fixture
def kept(fresh_store: Store) -> ExerciseRecord:
    """An exercise in the fresh store."""
    return fresh_store.exercises.keep(exercise())


@pytest.fixture
def folder_of_two(folder: Path) -> Iterator[tuple[Store, Store]]:
    """Two stores with the same file open."""
    with Store(folder, wait_s=10) as first, Store(folder, wait_s=10) as second:
        yield first, second
