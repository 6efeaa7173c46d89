"""The result of parsing a text: the chart so far, and everything that is open or wrong in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from trainer.chart.invalid_tokens import LETTERS_REFUSED
from trainer.chart.model import Chart
from trainer.chart.typed.question import Question
from trainer.errors import Problem

__all__ = ["ParseResult", "TextSpan"]


class TextSpan(NamedTuple):
    """Where a bar is typed: line and columns from 1; `end_column` is after its last character."""

    line: int
    column: int
    end_column: int


@dataclass(frozen=True, slots=True)
class ParseResult:
    """What was read from a text that may be unfinished or wrong.

    Attributes
    ----------
    chart : the bars that could be read; None while there is none.
    problems : everything wrong in the text, in order of place.
    bar_spans : where each bar of the chart is typed, one for each bar.
    invalid_bars : numbers (from 1) of the bars that are wrong, unfinished or asked about. Such a
        bar holds the chords that could be understood, evenly divided, or no chord; one that is
        asked about holds the first answer.
    questions : what can be read in two ways, in order of place.
    gaps : numbers (from 1) of the open bars, typed as ?. They hold no chord.
    """

    chart: Chart | None
    problems: tuple[Problem, ...]
    bar_spans: tuple[TextSpan, ...]
    invalid_bars: frozenset[int]
    questions: tuple[Question, ...] = ()
    gaps: frozenset[int] = frozenset()

    @property
    def letter_names(self) -> tuple[Problem, ...]:
        """The problems that are chords in letter names where only numbers are read."""
        return tuple(each for each in self.problems if each.expected == LETTERS_REFUSED)
