"""Phrase limits and sections."""

from __future__ import annotations

import pytest

from trainer.chart import parse
from trainer.grade import Weights, grade


def test_a_limit_one_bar_off_is_near_and_not_exact() -> None:
    """Limits at 4 and 8 written at 4 and 9: half of them exact, all within one bar."""
    phrases = grade(
        parse("1 1 1 1 . 4 4 4 4 . 5 5 5 5"), parse("1 1 1 1 . 4 4 4 4 5 . 5 5 5")
    ).phrases
    assert (phrases.precision, phrases.recall, phrases.f) == (0.5, 0.5, 0.5)
    assert phrases.near_f == 1.0


def test_one_phrase_songs_agree() -> None:
    """Neither side has a limit inside: perfect; only one has: nothing agrees."""
    assert grade(parse("1 4 5 1"), parse("1 4 5 1")).phrases.f == 1.0
    report = grade(parse("1 4 5 1"), parse("1 4 . 5 1"))
    assert (report.phrases.precision, report.phrases.recall, report.phrases.f) == (0, 0, 0)
    assert report.score < 1.0


@pytest.mark.parametrize("gone", range(5))
def test_a_bar_left_out_does_not_move_the_limits(gone: int) -> None:
    """Whichever bar of the second phrase is missing, its limits are where they were."""
    bars = ["4", "5", "1", "2-", "5"]
    del bars[gone]
    report = grade(
        parse("1 6- 4 5 . 4 5 1 2- 5 . 1 1 1 1"), parse(f"1 6- 4 5 . {' '.join(bars)} . 1 1 1 1")
    )
    assert report.phrases.f == 1.0


def test_phrases_and_form_count_only_where_there_is_something_to_hear() -> None:
    """A song of one phrase in one section is graded by its bars alone."""
    assert grade(parse("1 4 5 1"), parse("1 4 5 4")).score == pytest.approx(
        grade(parse("1 4 5 1"), parse("1 4 5 4"), weights=Weights(phrases=0, form=0)).score
    )


FORM = "Verse 1:\n1 4\nChorus:\n4 5\nVerse 2:\n1 4\nChorus:\n4 5"


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
