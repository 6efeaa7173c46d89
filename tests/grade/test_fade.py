"""A fade that is not marked, or marked where none is."""

from __future__ import annotations

from tests.grade.advice_checker import check_advice
from trainer.chart import parse
from trainer.grade import grade

FADING = parse("1 4 1 4 . [fade] 1 4 1 4")
PLAIN = parse("1 4 1 4 . 1 4 1 4")


def test_a_missing_fade_costs_nothing_and_is_said_once() -> None:
    """Every bar is right, so the grade is full; one sentence names the bar and the sign."""
    report = grade(FADING, PLAIN)
    assert report.score == 1.0
    assert [one.kind for one in report.advice] == ["all right", "fade"]
    assert "from bar 5 on" in report.advice[1].text
    assert "[fade]" in report.advice[1].text
    assert report.advice[1].cost == 0.0


def test_a_fade_that_is_not_played_costs_nothing_and_is_said_once() -> None:
    """The sentence names the bar of the answer."""
    report = grade(PLAIN, FADING)
    assert report.score == 1.0
    assert "your bar 5" in report.advice[-1].text


def test_where_a_fade_begins_is_not_compared() -> None:
    """A fade cannot be heard to the bar: marked a line early, it is right."""
    report = grade(FADING, parse("[fade] 1 4 1 4 . 1 4 1 4"))
    assert [one.kind for one in report.advice] == ["all right"]


def test_a_fade_is_said_after_what_cost_something() -> None:
    """Mistakes come first, and every sentence is true of the two charts."""
    answer = parse("1 4 1 4 . 1 5 1 4")
    report = grade(FADING, answer)
    check_advice(report.advice, FADING, answer)
    assert [one.kind for one in report.advice][-1] == "fade"
    assert report.score == grade(PLAIN, answer).score
