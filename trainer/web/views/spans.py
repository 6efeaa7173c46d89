"""Stretches of time: which range is looked at, and into how many pieces it is cut."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from trainer.web.formatting import day, short_day

__all__ = ["DEFAULT", "RANGES", "Span", "span_of"]

# What may be chosen: its name in the address, in words, and its days (None: all there is).
RANGES = (
    ("month", "4 weeks", 28),
    ("quarter", "3 months", 91),
    ("year", "a year", 364),
    ("all", "all of it", None),
)
DEFAULT = "month"
STEPS = (1, 7, 14, 28, 56, 91, 182, 364)
MOST_PIECES = 31


@dataclass(frozen=True, slots=True)
class Span:
    """`pieces` of `step` days each, from `since` to `until`."""

    name: str
    since: date
    until: date
    pieces: int
    step: int

    def piece(self, when: date) -> int:
        """Which piece a day is in, from 0; days beyond are in the first or the last."""
        return min(max(0, (when - self.since).days // self.step), self.pieces - 1)

    def labels(self) -> list[str]:
        """Each piece by its first day, short; the last by the day it is looked at."""
        firsts = [self.since + timedelta(days=self.step * k) for k in range(self.pieces)]
        days = [*firsts[:-1], self.until]
        if self.pieces * self.step > 366:
            return [f"{each:%b %Y}" for each in days]
        return [short_day(each) for each in days]

    def names(self) -> list[str]:
        """Each piece in full, for a table."""
        found = []
        for k in range(self.pieces):
            first = self.since + timedelta(days=self.step * k)
            last = first + timedelta(days=self.step - 1)
            whole = day(first)
            found.append(whole if self.step == 1 else f"{whole} to {day(last)}")
        return found


def span_of(name: str, today: date, first: date | None) -> Span:
    """The range of that name (`DEFAULT` for none we know) up to today.

    `first` is the first day there is anything of; the range "all" begins there.
    """
    days = {key: length for key, _, length in RANGES}
    name = name if name in days else DEFAULT
    length = days[name] or max(28, (today - (first or today)).days + 1)
    step = next((step for step in STEPS if length <= step * MOST_PIECES), None)
    step = step or -(-length // MOST_PIECES)
    pieces = max(1, -(-length // step))
    return Span(name, today - timedelta(days=pieces * step - 1), today, pieces, step)
