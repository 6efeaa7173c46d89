"""Shares in whole per cent, the same wherever a person reads one."""

from __future__ import annotations

import math

__all__ = ["whole_percent"]


def whole_percent(share: float) -> int:
    """Return a share (0 to 1) in whole per cent, rounded down: 100 is said of 1 alone.

    A share below a mark is so never shown as having reached it.

    >>> whole_percent(0.996), whole_percent(1.0), whole_percent(0.29)
    (99, 100, 29)
    """
    # A share that is a fraction may lie a hair below it.
    return 100 if share >= 1.0 else min(99, math.floor(100 * share + 1e-9))
