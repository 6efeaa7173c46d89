"""Numbers and times as people read them, the same in every text, table and plot."""

from __future__ import annotations

import re
from datetime import date, datetime
from html import escape

from trainer.chart import Chart
from trainer.grade import whole_percent

__all__ = [
    "day",
    "duration",
    "local_day",
    "meter_and_feel",
    "moment",
    "notation",
    "percent",
    "short_day",
]


def percent(share: float) -> str:
    """A share (0 to 1) as people read it.

    >>> percent(0.996)
    '99%'
    """
    return f"{whole_percent(share)}%"


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


def notation(text: str) -> str:
    """A plain text with signs of charts in it as HTML: what stands between backticks is typed so,
    elsewhere an extension stands above the line as on the sheet.

    >>> notation("5^sus4 is typed `5^sus4`")
    '5<sup>sus4</sup> is typed <code>5^sus4</code>'
    """
    parts = escape(text).split("`")
    drawn = (re.sub(r"\^(\w+)", r"<sup>\1</sup>", part) for part in parts[::2])
    typed = (f"<code>{part}</code>" for part in parts[1::2])
    both = [piece for pair in zip(drawn, [*typed, ""], strict=False) for piece in pair]
    return "".join(both)
