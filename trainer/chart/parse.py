"""Charts read from text: strictly, or as far as the text goes."""

from __future__ import annotations

import re
from collections.abc import Iterator

from trainer.chart.header import Header
from trainer.chart.invalid_tokens import abbreviate
from trainer.chart.model import MOST_CHARACTERS, Chart
from trainer.chart.parse_result import ParseResult
from trainer.chart.text_parser import TextParser
from trainer.errors import NotationError, Problem

__all__ = ["parse", "parse_tolerant"]

LINE_END = re.compile(r"\r\n|\r|\n")


def parse(
    text: str, header: Header | None = None, source: str = "", *, letters: bool = False
) -> Chart:
    """Read a chart from a text without any mistake or open question.

    `header` gives what the text does not say; `source` (a file name) stands before each problem.
    `letters` is as for `parse_tolerant`. Raises NotationError with every problem of the text.
    """
    result = parse_tolerant(text, header, letters=letters)
    problems = [*result.problems, *_question_problems(text, result)]
    if problems or result.chart is None:
        in_order = sorted(problems, key=lambda each: (each.line, each.column))
        raise NotationError(tuple(in_order), source)
    return result.chart


def parse_tolerant(
    text: str, header: Header | None = None, *, letters: bool = False
) -> ParseResult:
    """Read as much of a text as can be understood; never raises.

    `letters` is whether letter names are read, too, counted in the key; the text itself may ask
    for it (`chords: letters`). They are only read where `header` or the text says the key.
    """
    if len(text) > MOST_CHARACTERS:
        found, expected = f"a text of {len(text)} characters", f"at most {MOST_CHARACTERS}"
        return ParseResult(None, (Problem(1, 1, found, expected),), (), frozenset())
    parser = TextParser(header or Header(), letters=letters, key_is_known=header is not None)
    for number, line in enumerate(_lines(text), start=1):
        if not parser.bars.is_full:
            parser.line(number, line)
    return parser.result()


def _lines(text: str) -> list[str]:
    return LINE_END.split(text.removeprefix("\ufeff"))


def _question_problems(text: str, result: ParseResult) -> Iterator[Problem]:
    """A problem for each question, where none may remain."""
    lines = _lines(text) if result.questions else []
    for question in result.questions:
        typed = lines[question.line - 1][question.column - 1 : question.end_column - 1]
        found = f"{abbreviate(typed)}, which could be read two ways"
        ways = " or ".join(abbreviate(each.written) for each in question.choices)
        yield Problem(question.line, question.column, found, ways)
