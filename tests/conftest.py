"""Fixtures for every room (each adds its own in its folder), and how far properties are searched.

The profile `default` draws the same examples in every run on every machine, so that a run says
something about the change and nothing about luck. `thorough` draws new and more examples each
time; `scripts/test --thorough` uses it.
"""

from __future__ import annotations

import random
from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, settings

# Charts are large values, and busy processors are slow: neither says anything about the code.
settings.register_profile(
    "default",
    max_examples=100,
    derandomize=True,
    database=None,
    deadline=None,
    print_blob=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.register_profile(
    "thorough", settings.get_profile("default"), max_examples=500, derandomize=False
)


def pytest_configure(config: pytest.Config) -> None:
    """Load the profile that was asked for."""
    settings.load_profile(config.getoption("--hypothesis-profile") or "default")


@pytest.fixture
def rng() -> random.Random:
    """Randomness that is the same in every run."""
    return random.Random(7)


@pytest.fixture
def fixed_now() -> datetime:
    """A moment, aware and in UTC: Monday morning at the Millrace school."""
    return datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
