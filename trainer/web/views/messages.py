"""What is to be said of a text that was read, each message at its bar or its line."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass

from trainer.chart import ParseResult
from trainer.errors import Problem

__all__ = ["MOST_MESSAGES", "Messages", "SheetProblem", "place_messages"]

# Whoever has more problems will mend the first ones first; the bars of the others are marked only.
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
class Messages:
    """The problems of a text by place.

    Attributes
    ----------
    by_bar : those that stand within a bar, by the bar's number.
    by_line : the others, by their line of the text.
    unclear : the numbers of all bars that have a problem, shown or not.
    count : how many there are, shown or not.
    """

    by_bar: dict[int, tuple[SheetProblem, ...]]
    by_line: dict[int, tuple[SheetProblem, ...]]
    unclear: frozenset[int]
    count: int


def place_messages(parsed: ParseResult) -> Messages:
    """Put each problem of a text at its bar, or at its line where it is in no bar."""
    by_bar: dict[int, tuple[SheetProblem, ...]] = {}
    by_line: dict[int, tuple[SheetProblem, ...]] = {}
    unclear = set()
    starts = [(span.line, span.column) for span in parsed.bar_spans]
    for number, problem in enumerate(parsed.problems):
        bar = _bar_at(parsed, starts, problem)
        if bar is not None:
            unclear.add(bar)
        if number >= MOST_MESSAGES:
            continue
        shown = SheetProblem(problem.line, problem.column, problem.found, problem.expected)
        if bar is not None:
            by_bar[bar] = (*by_bar.get(bar, ()), shown)
        else:
            by_line[problem.line] = (*by_line.get(problem.line, ()), shown)
    return Messages(by_bar, by_line, frozenset(unclear), len(parsed.problems))


def _bar_at(parsed: ParseResult, starts: list[tuple[int, int]], problem: Problem) -> int | None:
    """The number of the bar in which a problem stands, None if it is in none."""
    number = bisect_left(starts, (problem.line, problem.column + 1))
    if not number:
        return None
    span = parsed.bar_spans[number - 1]
    inside = span.line == problem.line and problem.column < span.end_column
    return number if inside else None
