"""Days of practice summed up: how much was done, how well, and how close to the band."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.store import DayRecord

__all__ = ["Totals", "totals"]


@dataclass(frozen=True, slots=True)
class Totals:
    """A period summed up. Shares are 0 to 1; None where nothing is known.

    `score` is the mean of the attempts, `first_pass` the share of them that were written in one
    pass, `lag_beats` the mean of the days that have a lag.
    """

    exercises: int
    days: int
    minutes: float
    score: float | None
    first_pass: float | None
    lag_beats: float | None


def totals(days: Sequence[DayRecord]) -> Totals:
    """The days of a period summed up."""
    attempts = sum(day.attempts for day in days)
    return Totals(
        attempts,
        len(days),
        sum(day.minutes for day in days),
        sum(day.score * day.attempts for day in days) / attempts if attempts else None,
        sum(day.first_passes for day in days) / attempts if attempts else None,
        _mean(day.lag_beats for day in days),
    )


def _mean(values: Iterable[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None
