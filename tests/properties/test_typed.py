"""What people type, by the thousand: read in one way, asked about where there are two, no crash."""

from __future__ import annotations

import random
import re
from itertools import pairwise
from typing import NamedTuple

import pytest
from hypothesis import given, settings

from tests.chart.answers import answer_places, answered
from tests.properties.strategies import charts
from tests.properties.typed_texts import random_text
from trainer.chart import (
    Chart,
    Header,
    Key,
    ParseResult,
    Question,
    format_chart,
    parse,
    parse_tolerant,
)

# In the thorough run, which draws more examples of everything, all parts are 100,000 texts.
PARTS = 20
IS_THOROUGH = settings.get_profile("default").max_examples < settings().max_examples
TEXTS = 5_000 if IS_THOROUGH else 50
LINE_END = re.compile(r"\r\n|\r|\n")
HEADER = Header(key=Key("G"))


class Place(NamedTuple):
    """Where a stretch of a text begins and ends, as characters from the text's beginning."""

    start: int
    end: int


def place_of(text: str, question: Question) -> Place:
    """Where a question stands in a text."""
    return Place(*answer_places(text, question))


def check_answers(text: str, result: ParseResult, *, letters: bool) -> None:
    """Every choice, put in place, removes its question, and nothing in its text is asked about.

    Its line as a whole may be: that comes after what is asked about in it.
    """
    for question in result.questions:
        place = place_of(text, question)
        for choice in question.choices:
            after = answered(text, question, choice)
            again = parse_tolerant(after, HEADER, letters=letters)
            asked = [place_of(after, each) for each in again.questions]
            if choice.header:
                assert not any(one.kind == question.kind for one in again.questions), after
                continue
            end = place.start + len(choice.text)
            assert not any(place.start <= one.start and one.end <= end for one in asked), after


def check_places(text: str, result: ParseResult) -> None:
    """Bars, problems and questions stand inside the lines of the text, bars and questions apart."""
    lengths = [len(line) for line in LINE_END.split(text.removeprefix("\ufeff"))]
    for span in result.bar_spans:
        assert 1 <= span.column < span.end_column <= lengths[span.line - 1] + 1
    for problem in result.problems:
        assert 1 <= problem.column <= lengths[problem.line - 1] + 1
    assert list(result.bar_spans) == sorted(result.bar_spans)
    asked = [(each.line, each.column, each.end_column) for each in result.questions]
    for one, other in pairwise(asked):
        assert one[0] < other[0] or one[2] <= other[1], text


@pytest.mark.hypothesis
@pytest.mark.parametrize("part", range(PARTS))
def test_any_typed_text_is_read_in_one_way(part: int) -> None:
    """No text raises, its canonical form is the same chart, and every answer ends its question."""
    rng = random.Random(part)
    for _ in range(TEXTS):
        text, letters = random_text(rng), rng.random() < 0.2
        result = parse_tolerant(text, HEADER, letters=letters)
        check_places(text, result)
        if result.chart is None:
            continue
        again = parse_tolerant(format_chart(result.chart))
        assert (again.chart, again.questions, again.problems) == (result.chart, (), ()), text
        if not text.startswith("\ufeff"):
            check_answers(text, result, letters=letters)


@given(charts())
def test_canonical_text_raises_no_question(chart: Chart) -> None:
    """The canonical text of a chart is never asked about."""
    text = format_chart(chart)
    assert parse_tolerant(text).questions == ()
    assert parse(text) == chart
