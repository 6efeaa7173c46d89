"""The word under a bar."""

from __future__ import annotations

import pytest

from trainer.chart import parse
from trainer.drill import bar_difference, compare_bars
from trainer.grade import Weights, grade
from trainer.grade.report import BarGrade

RIGHT = BarGrade(1, 1, *[1.0] * 9)


@pytest.mark.parametrize(
    ("played", "written", "words"),
    [
        ("1 4 5", "1 6- 5", ["", "chord", ""]),
        ("1 4 5", "1 4- 5^7", ["", "quality", "quality"]),
        ("1/3 4p 1", "1 4 1", ["bass", "articulation", ""]),
        ("1 4 5 1", "1 4 5 6- 1", ["", "", "", "extra", ""]),
        ("1 4 5 1", "1 5 1", ["", "missed", "", ""]),
        ("1 [2/4] 5 1", "1 5 1", ["", "meter", ""]),
        ("1 [up 2] 1 1", "1 1 1", ["", "key", "key"]),
        ("1 4 5 1 6- 4 5 1", "(1 4) (5 1) (6- 4) (5 1)", ["half"] * 4),
        ("1 4 5 1 6- 4 5 1", "(1 4) (5 1) (6 4) (5 1)", ["half", "half", "quality", "half"]),
        ("1 4 5 1 6- 4 5 1", "(1 4) (5 1) (6- 2-) (5 1)", ["half", "half", "chord", "half"]),
        ("1 4 5 1 6- 4", "1 1 4 4 5 5 1 1 6 6 4 4", ["double"] * 4 + ["quality", "double"]),
        ("1 4 5 6- 4 1", "1 (4 5) 6- 4 1", ["", "two in one", "", "", ""]),
    ],
)
def test_the_first_part_that_is_wrong_is_named(played: str, written: str, words: list[str]) -> None:
    """A bar that is right has no word, a wrong one the word of its first wrong part."""
    report = grade(parse(played), parse(written))
    assert [place.word for place in compare_bars(report)] == words


def test_what_was_not_asked_for_is_not_named() -> None:
    """A bass that counts nothing has no word; a root always has one."""
    bar = RIGHT._replace(score=0.5, bass=0.0, articulation=0.0)
    assert bar_difference(RIGHT, Weights()) == ""
    assert bar_difference(bar._replace(placement=0.0, bass=1.0), Weights()) == "beat"
    assert bar_difference(bar, Weights()) == "bass"
    assert bar_difference(bar, Weights(bass=0.0)) == "articulation"
    assert bar_difference(bar._replace(root=0.0), Weights(root=0.0)) == "chord"
