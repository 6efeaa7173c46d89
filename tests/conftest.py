"""Fixtures for every room (each adds its own in its folder), and how far properties are searched:
200 examples each, or 2,000 with `--hypothesis-profile thorough`.
"""

from __future__ import annotations

import os
import random
from datetime import UTC, datetime

import pytest
from hypothesis import HealthCheck, settings

# Charts are large values, and two busy cores are slow: neither says anything about the code.
# What lands must not hang on luck: CI tries the same examples every time.
settings.register_profile(
    "default",
    max_examples=200,
    deadline=None,
    derandomize=bool(os.environ.get("CI")),
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.register_profile("thorough", settings.get_profile("default"), max_examples=2_000)


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
