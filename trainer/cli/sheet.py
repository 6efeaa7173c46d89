"""A chart drawn on the terminal: sections at the left, one phrase a line, bars in columns.

Bars stand in the notation they were typed in; split bars are underlined too where the terminal can.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from trainer.chart import Bar, Chart
from trainer.chart.format import format_bar

if TYPE_CHECKING:
    from rich.console import Console
    from rich.text import Text

__all__ = ["LABEL_WIDTH", "cell", "cell_width", "draw_sheet"]

LABEL_WIDTH = 14
SHORTEST_CELL = 4


def cell(bar: Bar, chart: Chart) -> str:
    """A bar of the chart as it stands on the sheet."""
    return format_bar(bar, chart).replace(" ", "")


def cell_width(chart: Chart) -> int:
    """Columns that every bar of the chart fits in, a space after it included."""
    widest = max(len(cell(bar, chart)) for bar in set(chart.bars()))
    return max(SHORTEST_CELL, widest + 2)


def draw_sheet(console: Console, chart: Chart, unsure: Iterable[int] = ()) -> None:
    """Draw the chart. Bars numbered in `unsure` (from 1) could not be read and show as `?`."""
    from rich.text import Text

    unreadable, width, number = frozenset(unsure), cell_width(chart), 0
    for section in chart.sections:
        label = section.name
        for phrase in section.phrases:
            line = Text(f"{label[: LABEL_WIDTH - 1]:<{LABEL_WIDTH}}", style="bold")
            label = ""
            for bar in phrase.bars:
                number += 1
                text = "?" if number in unreadable else cell(bar, chart)
                line.append_text(_styled(text, len(bar.events) > 1, width))
            console.print(line, no_wrap=True, crop=False, overflow="ignore")


def _styled(text: str, is_split: bool, width: int) -> Text:
    from rich.text import Text

    styled = Text(text, style="not bold underline" if is_split else "not bold")
    styled.append(" " * max(1, width - len(text)), style="not bold not underline")
    return styled
