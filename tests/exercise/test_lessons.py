"""The quick questions of a lesson: drawn by a seed, different from each other, fair to the ear."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest

from trainer.exercise import QUESTIONS, Lesson, Question, load_lesson, make_questions

TEXT = """
title = "Three ways down"
group = "chords"
order = 1
teaches = ["bass 5/7"]
about = "The bass walks."
listen_for = "The bass."
tempo = [80, 96]
keys = ["C", "D", "G"]
[[choices]]
name = "5/7"
[[choices]]
name = "5"
[[choices]]
name = "7o"
"""
LINES = ("1 {} 6- 4", "1 {} 6- 5", "1 1 {} 6-", "1 {} 1 4", "4 1 {} 6-", "1 {} 6- 2-", "6- {} 1 4")
SEEDS = range(200)


@pytest.fixture
def lesson(tmp_path: Path) -> Lesson:
    """A lesson of three choices and seven lines."""
    path = tmp_path / "three.toml"
    rows = [[f'"{line.format(name)}"' for name in ("5/7", "5", "7o")] for line in LINES]
    tables = [f"[[lines]]\ncharts = [{', '.join(row)}]\n" for row in rows]
    path.write_text(TEXT + "".join(tables), encoding="utf-8")
    return load_lesson(path)


def heard(question: Question) -> object:
    """Everything by which two questions can sound different."""
    return question.line, question.right, question.key, question.tempo


def test_a_seed_gives_the_same_questions(lesson: Lesson) -> None:
    """The same seed draws the same five questions, another seed others."""
    assert make_questions(lesson, 3) == make_questions(lesson, 3)
    assert [each.number for each in make_questions(lesson, 3)] == [1, 2, 3, 4, 5]
    drawn = {tuple(map(heard, make_questions(lesson, seed))) for seed in SEEDS}
    assert len(drawn) == len(SEEDS)


def test_no_line_comes_twice_and_none_is_the_example(lesson: Lesson) -> None:
    """Five questions are five different lines; the line of the examples is never asked."""
    for seed in SEEDS:
        lines = [each.line for each in make_questions(lesson, seed)]
        assert len(set(lines)) == QUESTIONS
        assert 0 not in lines


def test_every_choice_is_right_at_some_time(lesson: Lesson) -> None:
    """A learner who always gives the same answer is wrong at least twice and right at least once;
    no choice is favoured over many seeds.
    """
    rights: Counter[int] = Counter()
    for seed in SEEDS:
        found = Counter(each.right for each in make_questions(lesson, seed))
        assert set(found) == {0, 1, 2}
        rights += found
    shares = [rights[choice] / (len(SEEDS) * QUESTIONS) for choice in range(3)]
    assert all(0.28 < share < 0.39 for share in shares), shares


def test_keys_and_tempos_change(lesson: Lesson) -> None:
    """The key is never that of the question before; tempos are whole and within the bounds."""
    for seed in SEEDS:
        questions = make_questions(lesson, seed)
        keys = [each.key for each in questions]
        assert all(one != other for one, other in pairwise(keys))
        assert all(key in lesson.keys for key in keys)
        assert all(80 <= each.tempo <= 96 and each.tempo.is_integer() for each in questions)


def test_the_choices_of_a_question_differ_in_their_charts_alone(lesson: Lesson) -> None:
    """Key, tempo and the band's random numbers are the same whichever choice is played."""
    for question in make_questions(lesson, 1):
        charts = [question.chart(choice) for choice in range(3)]
        assert {(chart.key, chart.tempo, chart.feel) for chart in charts} == {
            (question.key, question.tempo, charts[0].feel)
        }
        assert question.band_rng().random() == question.band_rng().random()


def test_the_examples_are_those_of_the_first_line(lesson: Lesson) -> None:
    """Each choice is heard in the first line, in the first key at the middle of the tempos."""
    chart = lesson.example(2)
    assert [str(bar.events[0].chord) for bar in chart.bars()] == ["1", "7o", "6-", "4"]
    assert (str(chart.key), chart.tempo) == ("C", 88)
    assert lesson.example_rng().random() == lesson.example_rng().random()
