"""A school's server: a store of either kind and a clock that is set by hand."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.classroom.lockside import Lockside, found
from tests.classroom.people import School
from tests.patience import PATIENCE_S
from trainer.store import Store


@pytest.fixture
def school(location: Path | str) -> Iterator[School]:
    """A school in which nobody has an account."""
    with Store(location, wait_s=PATIENCE_S) as store:
        yield School(store)


@pytest.fixture
def small_school(sqlite_location: Path) -> Iterator[School]:
    """As `school`, in a file only: for what does not depend on the database."""
    with Store(sqlite_location, wait_s=PATIENCE_S) as store:
        yield School(store)


@pytest.fixture
def lockside(school: School) -> Lockside:
    """A class with two learners, once for each kind of database."""
    return found(school)


@pytest.fixture
def small_lockside(small_school: School) -> Lockside:
    """As `lockside`, in a file only."""
    return found(small_school)
