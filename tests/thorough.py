"""How much a test looks at that repeats one contract over many songs: some of them in a normal run,
more in a thorough one (`scripts/test --thorough`).

Such a test also has the mark `hypothesis`, by which the thorough run finds it.
"""

from __future__ import annotations

from hypothesis import settings

__all__ = ["how_many", "is_thorough"]


def is_thorough() -> bool:
    """Whether this run is a thorough one."""
    return settings().max_examples >= settings.get_profile("thorough").max_examples


def how_many(normal: int, thorough: int) -> int:
    """One of two numbers: that for a normal run or that for a thorough one."""
    return thorough if is_thorough() else normal
