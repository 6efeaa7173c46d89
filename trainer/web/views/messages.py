"""The messages about a text that was read, each placed at its bar or its line."""

from __future__ import annotations

import json
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from trainer.chart import ParseResult, Question
from trainer.errors import Problem

__all__ = [
    "MOST_MESSAGES",
    "AskedQuestion",
    "LetterNames",
    "Messages",
    "Notes",
    "SheetProblem",
    "place_messages",
]

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


class Edit(NamedTuple):
    """A stretch of one line, with the text that takes its place; columns count from 1."""

    line: int
    column: int
    end_column: int
    text: str


@dataclass(frozen=True, slots=True)
class AskedQuestion:
    """A question on the sheet, asked once for all places of one kind; `same` are the others."""

    question: Question
    same: tuple[Question, ...] = ()

    @property
    def places(self) -> int:
        """How many places the answer settles."""
        return 1 + len(self.same)

    @property
    def is_for_song(self) -> bool:
        """Whether the answer settles what is typed later, too."""
        return any(choice.header for choice in self.question.choices)

    @property
    def answers(self) -> tuple[tuple[str, str], ...]:
        """For each choice its label, and what it changes in the text, as JSON."""
        return tuple(
            (choice.label, json.dumps(self._edits(number)))
            for number, choice in enumerate(self.question.choices)
        )

    def _edits(self, number: int) -> list[Edit]:
        header = self.question.choices[number].header
        if header:
            return [Edit(1, 1, 1, f"{header}\n")]
        return [
            Edit(each.line, each.column, each.end_column, each.choices[number].text)
            for each in (self.question, *self.same)
        ]


@dataclass(frozen=True, slots=True)
class LetterNames:
    """Chords in letter names where numbers are expected: how many there are, and the first."""

    count: int
    first: str


@dataclass(frozen=True, slots=True)
class Notes:
    """What is said of one bar, or of one line apart from its bars."""

    problems: tuple[SheetProblem, ...] = ()
    questions: tuple[AskedQuestion, ...] = ()
    letters: LetterNames | None = None

    def __bool__(self) -> bool:
        return bool(self.problems or self.questions or self.letters)


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
    letters, said = parsed.letter_names, 0
    first_letters, other_letters = set(letters[:1]), set(letters[1:])
    for problem in parsed.problems:
        bar = _bar_at(parsed, starts, problem)
        if bar is not None:
            unclear.add(bar)
        if problem in other_letters:
            continue
        said += 1
        if problem in first_letters:
            names = LetterNames(len(letters), problem.found.split()[-1])
            _add(by_bar, by_line, bar, problem.line, Notes(letters=names))
        elif said <= MOST_MESSAGES:
            shown = SheetProblem(problem.line, problem.column, problem.found, problem.expected)
            _add(by_bar, by_line, bar, problem.line, Notes(problems=(shown,)))
    asked = _asked_once(parsed.questions)
    for each in asked[:MOST_MESSAGES]:
        _add(by_bar, by_line, each.question.bar, each.question.line, Notes(questions=(each,)))
    return Messages(by_bar, by_line, frozenset(unclear), said + len(asked))


def _asked_once(questions: Sequence[Question]) -> list[AskedQuestion]:
    """The questions in order, those of one kind as one."""
    groups: dict[object, list[Question]] = {}
    for number, question in enumerate(questions):
        groups.setdefault(question.kind or number, []).append(question)
    return [AskedQuestion(first, tuple(same)) for first, *same in groups.values()]


def _add(
    by_bar: dict[int, Notes], by_line: dict[int, Notes], bar: int | None, line: int, more: Notes
) -> None:
    notes, key = (by_line, line) if bar is None else (by_bar, bar)
    known = notes.get(key, Notes())
    notes[key] = Notes(
        known.problems + more.problems,
        known.questions + more.questions,
        known.letters or more.letters,
    )


def _bar_at(parsed: ParseResult, starts: list[tuple[int, int]], problem: Problem) -> int | None:
    """The number of the bar in which a problem stands, None if it is in none."""
    number = bisect_left(starts, (problem.line, problem.column + 1))
    if not number:
        return None
    span = parsed.bar_spans[number - 1]
    inside = span.line == problem.line and problem.column < span.end_column
    return number if inside else None
