"""Periods of time to look at, each cut into stretches of as many days."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from trainer.web.formatting import day, short_day

__all__ = ["DEFAULT", "PERIODS", "Period", "period_of"]

# What may be chosen: its name in the address, its name in words, its days (None: all there is).
PERIODS = (
    ("month", "4 weeks", 28),
    ("quarter", "3 months", 91),
    ("year", "1 year", 364),
    ("all", "everything", None),
)
DEFAULT = "month"
STRETCH_DAYS = (1, 7, 14, 28, 56, 91, 182, 364)
MOST_STRETCHES = 31


@dataclass(frozen=True, slots=True)
class Period:
    """A period from `since` to `until`: `count` stretches of `days_each` days."""

    name: str
    since: date
    until: date
    count: int
    days_each: int

    def index_of(self, when: date) -> int:
        """Which stretch a day is in, from 0; days beyond are in the first or the last."""
        return min(max(0, (when - self.since).days // self.days_each), self.count - 1)

    def labels(self) -> list[str]:
        """Each stretch by its first day, short; the last by the day it is looked at."""
        firsts = [self.since + timedelta(days=self.days_each * k) for k in range(self.count)]
        days = [*firsts[:-1], self.until]
        if self.count * self.days_each > 366:
            return [f"{each:%b %Y}" for each in days]
        return [short_day(each) for each in days]

    def names(self) -> list[str]:
        """Each stretch in full, for a table."""
        found = []
        for k in range(self.count):
            first = self.since + timedelta(days=self.days_each * k)
            last = first + timedelta(days=self.days_each - 1)
            whole = day(first)
            found.append(whole if self.days_each == 1 else f"{whole} to {day(last)}")
        return found


def period_of(name: str, today: date, first: date | None) -> Period:
    """The period of that name (`DEFAULT` for none we know) up to today.

    `first` is the first day there is anything of; the period "all" begins there.
    """
    lengths = {key: length for key, _, length in PERIODS}
    name = name if name in lengths else DEFAULT
    length = lengths[name] or max(28, (today - (first or today)).days + 1)
    fitting = [days for days in STRETCH_DAYS if length <= days * MOST_STRETCHES]
    days_each = fitting[0] if fitting else -(-length // MOST_STRETCHES)
    count = max(1, -(-length // days_each))
    return Period(name, today - timedelta(days=count * days_each - 1), today, count, days_each)
