"""The page of worked mistakes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from trainer.chart import parse
from trainer.grade import Weights, grade

from .rules import RULES, Rule
from .worked import MISTAKES, PAGE, page


def test_the_page_is_what_the_program_writes() -> None:
    """docs/grading.md is up to date; `python -m tests.grade.worked` writes it."""
    assert PAGE.read_text(encoding="utf-8") == page()


def test_there_are_mistakes_enough_each_its_own() -> None:
    """25 or more, no two of them alike."""
    assert len(MISTAKES) >= 25
    assert len({(one.song, one.answer, one.weights, one.behind_from) for one in MISTAKES}) == len(
        MISTAKES
    )


# What a weight may not be lowered below; it is raised instead.
RAISED = {"slip": 2.0, "swapped": 2.5}


@pytest.mark.parametrize(
    ("rule", "name"),
    [
        pytest.param(rule, name, id=f"{name}: {rule.what}")
        for rule in RULES
        for name in rule.weights
    ],
)
def test_a_weight_named_in_a_rule_moves_the_grade_of_its_example(rule: Rule, name: str) -> None:
    """With another value of it the example has another grade: the rule is about that weight."""
    value = RAISED.get(name, getattr(Weights(), name) * 0.9)
    changed = replace(Weights(), **{name: value})
    score = grade(parse(rule.song), parse(rule.answer), weights=changed).score
    assert abs(score - rule.score) > 1e-6
