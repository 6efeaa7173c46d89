"""Sections: their labels, their order and their lengths."""

from __future__ import annotations

import random

import pytest

from trainer.chart import parse
from trainer.grade import grade
from trainer.grade.content import chart_content
from trainer.grade.form import grade_form

FORM = "Verse 1:\n1 4\nChorus:\n4 5\nVerse 2:\n1 4\nChorus:\n4 5"
SONG = "Intro, Verse 1, Chorus, Verse 2, Chorus, Bridge, Chorus, Tag"


def order_of(reference: str, answer: str) -> float:
    """The order's grade of charts that have these labels, a bar under each."""
    charts = [
        chart_content(parse("".join(f"{name}:\n1\n" for name in names.split(", "))))
        for names in (reference, answer)
    ]
    return grade_form(*charts).order


def test_sections_are_compared_by_kind() -> None:
    """Verse 2 may be called Verse."""
    form = grade(parse(FORM), parse(FORM.replace("Verse 2", "Verse"))).form
    assert (form.order, form.lengths, form.score) == (1.0, 1.0, 1.0)


def test_a_section_left_out_or_relabelled_lowers_the_order() -> None:
    """Three of four sections in order are six sevenths; three of four kinds are three quarters."""
    form = grade(parse(FORM), parse(FORM.replace("Verse 2:\n1 4\n", ""))).form
    assert form.order == pytest.approx(6 / 7)
    assert [(pair.reference, pair.answer) for pair in form.sections] == [
        ("Verse 1", "Verse 1"),
        ("Chorus", "Chorus"),
        ("Verse 2", None),
        ("Chorus", "Chorus"),
    ]
    form = grade(parse(FORM), parse(FORM.replace("Verse 2", "Bridge"))).form
    assert form.order == pytest.approx(3 / 4)


def test_lengths_are_told_apart_from_order() -> None:
    """A bar left out makes its section too short and leaves the order."""
    form = grade(parse(FORM), parse(FORM.replace("Verse 2:\n1 4", "Verse 2:\n1"))).form
    assert (form.order, form.lengths) == (1.0, 0.75)
    assert (form.sections[2].reference_bars, form.sections[2].answer_bars) == (2, 1)


def test_swapped_sections_are_out_of_order() -> None:
    """Two sections in the other order: one of two is in place."""
    form = grade(parse("Verse:\n1 4\nChorus:\n5 1"), parse("Chorus:\n5 1\nVerse:\n1 4")).form
    assert form.order == 0.5


@pytest.mark.parametrize(
    ("reference", "answer"),
    [
        (SONG, "In, V1, Ch, V2, Ch, Br, Ch, Tag"),
        (SONG, "Int, V, Cho, V, Cho, Middle 8, Cho, T"),
        (SONG, "I, VS 1, C, vs 2, C2, B, Refrain, End"),
        (SONG, "Intro, Verse, Ch 1, Verse, Ch 2, M8, Ch 3, Coda"),
        (SONG, "Intro, A, B, A, B, C, B, Tag"),
        (SONG, "A, B, C, B2, C2, D, C, E"),
        (SONG, "I, A1, B1, A2, B2, C, B3, T"),
        ("Verse 1, Pre-Chorus, Chorus, Turnaround, Solo, Outro", "V, PC, C, TA, Inst, O"),
        ("Verse 1, Pre-Chorus, Chorus, Turnaround, Solo, Outro", "V, Pre, Ch, Turn, Solo, Out"),
        ("Verse, Interlude, Verse, Outro", "V, Vamp, V, End"),
        ("Verse 1, Verse 2, Bridge, Verse 3", "A, A, B, A"),
        ("A, A, B, A", "Verse 1, Verse 2, Bridge, Verse 3"),
        ("A, A, B, A", "A, A', B, A"),
        ("A, B, A, C", "V, C, V, B"),
        ("Chorus, Verse, Chorus", "B, C, B"),
        ("Verse, Chorus", "Part 1, Part 2"),
        ("Verse 1, Chorus, Verse 2, Chorus", "Section 1, Section 2, Section 1, Section 2"),
        ("Part 1, Part 2, Part 1", "Verse, Chorus, Verse"),
        ("A, B, A", "Part I, Part II, Part I"),
    ],
)
def test_labels_that_say_the_form_lose_nothing(reference: str, answer: str) -> None:
    """Short names, other numbers and letters that are consistent are right."""
    assert order_of(reference, answer) == 1.0


@pytest.mark.parametrize(
    ("reference", "answer", "expected"),
    [
        ("Verse, Chorus, Verse, Chorus", "A, A, A, A", 1 / 2),
        ("Verse, Chorus, Verse, Chorus", "A, B, B, B", 3 / 4),
        ("Verse, Chorus, Verse, Chorus", "A, Chorus, Verse, Chorus", 3 / 4),
        ("Verse, Chorus, Verse, Chorus", "A, B, A, Chorus", 3 / 4),
        ("Verse, Chorus, Verse, Chorus", "V, C, V, B", 3 / 4),
        ("Verse, Chorus, Verse, Chorus", "Verse, Bridge, Verse, Bridge", 1 / 2),
        ("Verse, Verse, Verse", "A, B, C", 1 / 3),
        ("Verse, Chorus, Verse, Chorus", "Part 1, Part 1, Part 1, Part 2", 3 / 4),
        ("Verse, Chorus, Bridge", "A, B, A", 2 / 3),
        ("A, B, A, B", "Verse, Verse, Verse, Chorus", 3 / 4),
        ("A, B, A, C", "A, B, A, B", 3 / 4),
    ],
)
def test_letters_stand_for_one_label_each(reference: str, answer: str, expected: float) -> None:
    """A letter, or a word for a letter, that stands for two labels is wrong in one of them."""
    assert order_of(reference, answer) == pytest.approx(expected)


def test_a_chart_without_labels_has_no_form() -> None:
    """Bars under no heading are no section of the reference; a part without one is one short."""
    assert grade(parse(FORM), parse("1 4 . 4 5 . 1 4 . 4 5")).form.order == 0.0
    assert grade(parse(FORM), parse("1 4\nChorus:\n4 5\nV:\n1 4\nC:\n4 5")).form.order == 0.75


@pytest.mark.many
@pytest.mark.parametrize(
    "names",
    [SONG, "I, A, B, A, B, C, B, Tag", "I, V, C, V, C, B, C, T", "A, B, C, B, C, D, C, E"],
)
def test_a_wrong_label_never_raises_the_form(names: str) -> None:
    """Labels of a right chart go wrong one after the other, and the form never rises.

    A label is wrong that is a word for a kind that the song does not have, or a letter that is no
    part's; H stands for a part that is there once.
    """
    rng = random.Random(5)
    for _ in range(200):
        labels, before, letters = names.split(", "), 1.0, list("QXYH")
        for place in rng.sample(range(len(labels)), 4):
            labels[place] = rng.choice(["Synth", "Pre", "Inter", "Solo", "TA", letters.pop()])
            now = order_of(SONG, ", ".join(labels))
            assert now <= before, labels
            before = now


@pytest.mark.parametrize("names", [SONG, "I, A, B, A, B, C, B, Tag", "I, V, C, V, C, B, C, O"])
def test_a_section_too_many_or_too_few_lowers_the_form(names: str) -> None:
    """Whichever section is left out or written twice, the order is no longer right."""
    labels = names.split(", ")
    for k, label in enumerate(labels):
        assert order_of(SONG, ", ".join(labels[:k] + labels[k + 1 :])) < 1.0
        assert order_of(SONG, ", ".join([*labels[:k], label, *labels[k:]])) < 1.0


def test_a_chart_of_every_letter_is_graded_all_the_same() -> None:
    """The search ends after a bounded number of readings, with a grade from 0 to 1."""
    rng = random.Random(3)
    letters = [rng.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ") for _ in range(60)]
    other = [rng.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ") for _ in range(60)]
    assert order_of(", ".join(letters), ", ".join(letters)) == 1.0
    assert 0.0 < order_of(", ".join(letters), ", ".join(other)) < 1.0
