"""The messages about a text that was read, each placed at its bar or its line."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass

from trainer.chart import ParseResult, Question
from trainer.errors import Problem

__all__ = ["MOST_MESSAGES", "Messages", "Notes", "SheetProblem", "place_messages"]

# Only this many problems have a message, since a learner mends the first ones first; the bars of
# the others are only marked.
MOST_MESSAGES = 30
# What is drawn for an articulation is not what is typed for it.
ARTICULATION_HINTS = (("<", "A push is written p: 4p"), ("^", "A choke is written c: 4c"))


@dataclass(frozen=True, slots=True)
class SheetProblem:
    """A problem of the text: where it is typed, what was found and what was expected."""

    line: int
    column: int
    found: str
    expected: str

    @property
    def hint(self) -> str:
        """How the articulation that was typed as it is drawn is written, "" if none was."""
        return next((hint for sign, hint in ARTICULATION_HINTS if self.found.endswith(sign)), "")


@dataclass(frozen=True, slots=True)
class Notes:
    """What is said of one bar, or of one line apart from its bars."""

    problems: tuple[SheetProblem, ...] = ()
    questions: tuple[Question, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.problems or self.questions)


@dataclass(frozen=True, slots=True)
class Messages:
    """The problems and questions of a text by place.

    Attributes
    ----------
    by_bar : those about a bar, by the bar's number.
    by_line : the others, by their line of the text.
    unclear : the numbers of all bars that have a problem, shown or not.
    count : how many there are, shown or not.
    """

    by_bar: Mapping[int, Notes]
    by_line: Mapping[int, Notes]
    unclear: frozenset[int]
    count: int


def place_messages(parsed: ParseResult) -> Messages:
    """Put each problem and each question of a text at its bar, or at its line where it is about no
    bar."""
    by_bar: dict[int, Notes] = {}
    by_line: dict[int, Notes] = {}
    unclear = set()
    starts = [(span.line, span.column) for span in parsed.bar_spans]
    for number, problem in enumerate(parsed.problems):
        bar = _bar_at(parsed, starts, problem)
        if bar is not None:
            unclear.add(bar)
        if number < MOST_MESSAGES:
            shown = SheetProblem(problem.line, problem.column, problem.found, problem.expected)
            _add(by_bar, by_line, bar, problem.line, Notes(problems=(shown,)))
    for question in parsed.questions[:MOST_MESSAGES]:
        _add(by_bar, by_line, question.bar, question.line, Notes(questions=(question,)))
    count = len(parsed.problems) + len(parsed.questions)
    return Messages(by_bar, by_line, frozenset(unclear), count)


def _add(
    by_bar: dict[int, Notes], by_line: dict[int, Notes], bar: int | None, line: int, more: Notes
) -> None:
    notes, key = (by_line, line) if bar is None else (by_bar, bar)
    known = notes.get(key, Notes())
    notes[key] = Notes(known.problems + more.problems, known.questions + more.questions)


def _bar_at(parsed: ParseResult, starts: list[tuple[int, int]], problem: Problem) -> int | None:
    """The number of the bar in which a problem stands, None if it is in none."""
    number = bisect_left(starts, (problem.line, problem.column + 1))
    if not number:
        return None
    span = parsed.bar_spans[number - 1]
    inside = span.line == problem.line and problem.column < span.end_column
    return number if inside else None
