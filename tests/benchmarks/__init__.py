"""Benchmarks: each module's `run()` gives rows, `python -m tests.benchmarks` prints one table.

Compared programs run side by side, in turns, in one run. All of them work alone, without waiting,
so their time is processor time, their own and their children's, the best of a few: what else the
machine does hardly counts. Where a person waits, or two threads share the work, the time is that of
the clock on the wall, which needs an idle machine.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Row", "against", "at_least", "at_most", "best_in_turns", "best_of_both", "seen"]


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table. `other` and `ratio` are None if nothing is compared, `ok` is None
    where nothing is aimed at."""

    name: str
    ours: float
    other: float | None
    ratio: float | None
    target: str
    unit: str
    ok: bool | None


def against(name: str, ours_s: float, other_s: float, least: float | None = None) -> Row:
    """Our time against another's: the ratio is how many times as fast we are."""
    ratio = other_s / ours_s
    target = "" if least is None else f"ratio ≥ {least:g}"
    return Row(name, ours_s, other_s, ratio, target, "s", None if least is None else ratio >= least)


def at_most(name: str, ours: float, most: float, unit: str) -> Row:
    """A figure that should stay at or under `most`."""
    return Row(name, ours, None, None, f"≤ {most:g}", unit, ours <= most)


def at_least(name: str, ours: float, least: float, unit: str) -> Row:
    """A figure that should reach `least`."""
    return Row(name, ours, None, None, f"≥ {least:g}", unit, ours >= least)


def seen(name: str, ours: float, unit: str, other: float | None = None) -> Row:
    """A figure without a target, perhaps beside another's."""
    return Row(name, ours, other, None if other is None else other / ours, "", unit, None)


def best_in_turns(*programs: Callable[[], object], times: int = 3) -> list[float]:
    """The shortest processor time of each program, seconds; they run in turns."""
    return [processor_s for _, processor_s in best_of_both(*programs, times=times)]


def best_of_both(*programs: Callable[[], object], times: int = 3) -> list[tuple[float, float]]:
    """The shortest time by the clock, and of the processor, of each program, seconds; in turns."""
    best = [(float("inf"), float("inf"))] * len(programs)
    for _ in range(times):
        for place, program in enumerate(programs):
            clock, processor = time.perf_counter(), _processor_s()
            program()
            took = time.perf_counter() - clock, _processor_s() - processor
            best[place] = min(best[place][0], took[0]), min(best[place][1], took[1])
    return best


def _processor_s() -> float:
    """Processor time of this program and of the children it has waited for."""
    return sum(os.times()[:4])
