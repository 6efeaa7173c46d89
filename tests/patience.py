"""How long a test waits for what another thread, process or browser brings about.

A test that passes does not wait so long on any machine: the time only bounds a hang. What is waited
for is asked for again and again, with a short rest in between.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator

__all__ = ["PATIENCE_S", "until", "waiting"]

PATIENCE_S = 120.0
REST_S = 0.002


def waiting(what: str) -> Iterator[None]:
    """Tries, for as long as it is reasonable to wait; the loop's body rests and returns in the end.

    Raises AssertionError saying what was waited for, after `PATIENCE_S` seconds.
    """
    end = time.monotonic() + PATIENCE_S
    while time.monotonic() < end:
        yield
    raise AssertionError(f"waited {PATIENCE_S:.0f} s in vain until {what}")


def until(holds: Callable[[], bool], what: str = "it holds") -> None:
    """Wait until something holds that another thread brings about."""
    rest = threading.Event()
    for _ in waiting(what):
        if holds():
            return
        rest.wait(REST_S)
