"""Numbers as people read them."""

from __future__ import annotations

__all__ = ["percent"]


def percent(share: float) -> str:
    """A share in per cent; only the whole is 100.

    >>> percent(0.999), percent(1.0)
    ('99%', '100%')
    """
    return f"{min(99, round(100 * share)) if share < 1 else 100}%"
