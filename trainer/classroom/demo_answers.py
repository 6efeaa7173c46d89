"""What the learners of the demo class write: charts with the mistakes that learners make."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace

from trainer.chart import Bar, Chart, Chord, Event, format_chart

__all__ = ["from_another_home", "with_mistakes", "without_last_bar"]

# What is heard as something else: a chord's degree and quality, and what is written for it.
TAKEN_FOR = {
    "4": (2, "-"), "2-": (4, ""), "6-": (1, ""), "3-": (1, ""), "5": (1, ""), "1": (6, "-"),
}  # fmt: skip
# A 1 and a 5 are missed less often than the others.
SURE, SURE_SHARE = frozenset("15"), 0.4


def with_mistakes(chart: Chart, share: float, rng: random.Random) -> str:
    """A chart's text with a share of its chords mistaken; slash basses are missed more often."""

    def heard(event: Event) -> Event:
        chord = event.chord
        if chord is None:
            return event
        name = f"{chord.degree}{chord.quality}"
        missed = share * (SURE_SHARE if name in SURE else 1)
        if chord.alteration == 0 and name in TAKEN_FOR and rng.random() < missed:
            degree, quality = TAKEN_FOR[name]
            return replace(event, chord=Chord(degree, quality=quality))
        if chord.bass is not None and rng.random() < 2 * share:
            return replace(event, chord=replace(chord, bass=None))
        return event

    return _written(chart, heard)


def from_another_home(chart: Chart) -> str:
    """A chart's text as somebody writes it who takes the 4 for home: its 1 is written as 5."""

    def heard(event: Event) -> Event:
        chord = event.chord
        if chord is None:
            return event
        bass = chord.bass and chord.bass._replace(number=_from_the_4(chord.bass.number))
        return replace(event, chord=replace(chord, degree=_from_the_4(chord.degree), bass=bass))

    return _written(chart, heard)


def without_last_bar(chart: Chart) -> str:
    """A chart's text without its last bar."""
    *sections, last = chart.sections
    *phrases, phrase = last.phrases
    shorter = replace(phrase, bars=phrase.bars[:-1])
    kept = (*phrases, shorter) if shorter.bars else tuple(phrases)
    return format_chart(replace(chart, sections=(*sections, replace(last, phrases=kept))))


def _from_the_4(degree: int) -> int:
    """A degree counted from the 4."""
    return (degree + 3) % 7 + 1


def _written(chart: Chart, heard: Callable[[Event], Event]) -> str:
    """A chart's text with each of its events as it was heard."""

    def of_bar(bar: Bar) -> Bar:
        return replace(bar, events=tuple(map(heard, bar.events)))

    sections = tuple(
        replace(
            section,
            phrases=tuple(
                replace(phrase, bars=tuple(map(of_bar, phrase.bars))) for phrase in section.phrases
            ),
        )
        for section in chart.sections
    )
    return format_chart(replace(chart, sections=sections))
