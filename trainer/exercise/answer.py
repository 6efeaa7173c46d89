"""A learner's answer: the text that was typed, read as far as it goes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from trainer.chart import Chart, Header, ParseResult, parse_tolerant
from trainer.exercise.exercise import Exercise

__all__ = ["Answer", "ChartOutline", "chart_outline", "header_for", "read_answer"]

# The name of silence among the chords of a bar, as it is written in a chart.
NO_CHORD = "0"


@dataclass(frozen=True, slots=True)
class Answer:
    """A text that answers an exercise, with what could be read of it.

    `parsed` holds the chart so far and the problems found in the text.
    """

    text: str
    parsed: ParseResult

    @property
    def chart(self) -> Chart | None:
        """The chart that was read; None if the text holds no bar."""
        return self.parsed.chart


def header_for(exercise: Exercise) -> Header:
    """Meter, tempo, feel and key of the song: what a learner need not write."""
    chart = exercise.chart
    return Header(meter=chart.meter, tempo=chart.tempo, feel=chart.feel, key=chart.key)


def read_answer(exercise: Exercise, text: str) -> Answer:
    """Read the text of an answer; what it does not say of meter and key is the song's own."""
    return Answer(text, parse_tolerant(text, header_for(exercise)))


class ChartOutline(NamedTuple):
    """The bars of a chart: the names of each bar's chords, and the numbers (from 1) of the bars
    that end a phrase and of those that start a section."""

    chords: tuple[tuple[str, ...], ...]
    phrase_ends: frozenset[int]
    section_starts: frozenset[int]


def chart_outline(chart: Chart | None) -> ChartOutline:
    """The outline of a chart; an empty one for no chart."""
    chords: list[tuple[str, ...]] = []
    ends, starts = set(), set()
    for section in chart.sections if chart is not None else ():
        starts.add(len(chords) + 1)
        for phrase in section.phrases:
            chords += [
                tuple(str(event.chord) if event.chord else NO_CHORD for event in bar.events)
                for bar in phrase.bars
            ]
            ends.add(len(chords))
    return ChartOutline(tuple(chords), frozenset(ends), frozenset(starts))
