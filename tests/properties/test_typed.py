"""What people type, by the thousand: read in one way, asked about where there are two, no crash."""

from __future__ import annotations

import random
import re

import pytest
from hypothesis import given, settings

from tests.properties.strategies import charts
from tests.properties.typed_texts import random_text
from trainer.chart import Chart, Header, ParseResult, Question, format_chart, parse, parse_tolerant

# In the thorough run all parts together are a hundred thousand texts.
PARTS = 20
TEXTS = 5_000 if settings.default.max_examples > 100 else 100  # type: ignore[union-attr] # is set
LINE_END = re.compile(r"\r\n|\r|\n")


def answered(text: str, question: Question, choice: int) -> tuple[str, int]:
    """The text with a choice put in place, and the number of characters from there to its end."""
    lines = LINE_END.split(text)
    ends = [*LINE_END.findall(text), ""]
    before = sum(
        len(line) + len(end) for line, end in zip(lines[: question.line - 1], ends, strict=False)
    )
    start, end = before + question.column - 1, before + question.end_column - 1
    return text[:start] + question.choices[choice].text + text[end:], len(text) - end


def places(text: str, result: ParseResult) -> list[tuple[int, int]]:
    """Where each question lies, as characters from its ends to the end of the text."""
    lines = LINE_END.split(text)
    ends = [*LINE_END.findall(text), ""]
    found = []
    for question in result.questions:
        before = sum(
            len(line) + len(end)
            for line, end in zip(lines[: question.line - 1], ends, strict=False)
        )
        columns = (question.column - 1, question.end_column - 1)
        found.append(tuple(len(text) - before - column for column in columns))
    return found  # type: ignore[return-value] # pairs


def check_answers(text: str, result: ParseResult, header: Header) -> None:
    """Every choice, put in place, removes its question and asks no other about the same text."""
    for question in result.questions:
        for number in range(len(question.choices)):
            after, rest = answered(text, question, number)
            again = parse_tolerant(after, header)
            length = len(question.choices[number].text)
            inside = [
                place for place in places(after, again)
                if place[0] <= rest + length and place[1] >= rest
            ]  # fmt: skip
            assert inside == [], (text, question, number, after)
            assert len(again.questions) < len(result.questions) + 1


@pytest.mark.hypothesis
@pytest.mark.parametrize("part", range(PARTS))
def test_any_typed_text_is_read_in_one_way(part: int) -> None:
    """No text raises, its canonical form is the same chart, and every answer ends its question."""
    rng = random.Random(part)
    header = Header()
    for _ in range(TEXTS):
        text = random_text(rng)
        result = parse_tolerant(text, header, letters=rng.random() < 0.2)
        if result.chart is None:
            continue
        canonical = format_chart(result.chart)
        again = parse_tolerant(canonical)
        assert (again.chart, again.questions, again.problems) == (result.chart, (), ()), text


@given(charts())
def test_canonical_text_raises_no_question(chart: Chart) -> None:
    """The canonical text of a chart is never asked about, with or without its header."""
    text = format_chart(chart)
    assert parse_tolerant(text).questions == ()
    assert parse(text) == chart
