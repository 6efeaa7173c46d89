"""Numbers and times as people read them, the same in every text, table and plot."""

from __future__ import annotations

from datetime import date, datetime

from trainer.chart import Chart
from trainer.grade import whole_percent

__all__ = [
    "day",
    "duration",
    "local_day",
    "meter_and_feel",
    "moment",
    "percent",
    "short_day",
]


def percent(share: float) -> str:
    """A share (0 to 1) as people read it.

    >>> percent(0.996)
    '99 %'
    """
    return f"{whole_percent(share)} %"


def moment(when: datetime) -> str:
    """A moment on the clock of this machine, as in "2 Mar 2026, 09:30"."""
    local = when.astimezone()
    return f"{local.day} {local:%b %Y, %H:%M}"


def day(when: date) -> str:
    """A day, as in "2 Mar 2026"."""
    return f"{when.day} {when:%b %Y}"


def local_day(when: datetime) -> date:
    """The day of a moment on the calendar of this machine."""
    return when.astimezone().date()


def short_day(when: date) -> str:
    """A day without its year, as in "2 Mar"."""
    return f"{when.day} {when:%b}"


def duration(minutes: float) -> str:
    """A time spent, as in "1 h 5 min"."""
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest} min" if hours else f"{rest} min"


def meter_and_feel(chart: Chart) -> str:
    """Meter and feel of a chart, said once where both are the same."""
    return f"{chart.meter}" + ("" if chart.feel == str(chart.meter) else f", {chart.feel}")
