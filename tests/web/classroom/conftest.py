"""A class server with an empty record."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import ExitStack

import pytest

from tests.web.classroom.school import School
from tests.web.fakes import FakeLibrary
from trainer.store import Store


@pytest.fixture
def school(store: Store, library: FakeLibrary) -> Iterator[School]:
    """A class server on which nobody has an account."""
    with ExitStack() as stack:
        yield School(store, library, stack)
