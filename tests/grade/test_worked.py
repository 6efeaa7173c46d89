"""The page of worked mistakes."""

from __future__ import annotations

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
