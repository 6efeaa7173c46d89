"""A stretch of a chart as a chart of its own."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby

from trainer.chart.model import BarPlace, Chart, Phrase, Section
from trainer.errors import ChartError

__all__ = ["excerpt"]


def excerpt(chart: Chart, first: int, last: int) -> Chart:
    """Bars `first` to `last` (from 1, both included) in the key that holds where they start.

    Raises ChartError when the chart does not have them.
    """
    places = [place for place in chart.walk() if first <= place.number <= last]
    if not 1 <= first <= last or len(places) != last - first + 1:
        raise ChartError(
            "excerpt", f"bars {first} to {last}", f"bars from 1 to {len(chart.bars())}"
        )
    start = places[0]
    places[0] = start._replace(bar=replace(start.bar, key_change=0))
    sections = tuple(
        Section(chart.sections[index].name, _phrases(list(inside)))
        for index, inside in groupby(places, key=lambda place: place.section)
    )
    return replace(chart, key=chart.key.shifted(start.key_shift), sections=sections)


def _phrases(places: list[BarPlace]) -> tuple[Phrase, ...]:
    return tuple(
        Phrase(tuple(place.bar for place in inside))
        for _, inside in groupby(places, key=lambda place: place.phrase)
    )
