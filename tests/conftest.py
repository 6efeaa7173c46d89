"""Fixtures for every room; each room adds its own in its folder's conftest.py."""

from __future__ import annotations

import random
from datetime import UTC, datetime

import pytest
from hypothesis import settings

# No example fails for taking long (time is for benchmarks), and every run tries the same ones.
settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")


@pytest.fixture
def rng() -> random.Random:
    """Randomness that is the same in every run."""
    return random.Random(7)


@pytest.fixture
def fixed_now() -> datetime:
    """A moment, aware and in UTC: Monday morning at the Millrace school."""
    return datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
