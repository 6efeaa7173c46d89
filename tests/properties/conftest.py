"""How far the properties are searched: 200 examples each, or 2,000 with
`--hypothesis-profile thorough`.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, settings

# Charts are large values, and two busy cores are slow: neither says anything about the code.
settings.register_profile(
    "default",
    max_examples=200,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.register_profile("thorough", settings.get_profile("default"), max_examples=2_000)


def pytest_configure(config: pytest.Config) -> None:
    """Load the profile that was asked for."""
    settings.load_profile(config.getoption("--hypothesis-profile") or "default")
