"""How easy the page's sentences are to read."""

from __future__ import annotations

import random
from collections.abc import Iterator
from datetime import datetime
from xml.etree.ElementTree import Element

import html5lib
import pytest
from fastapi.testclient import TestClient

from tests.readability import flesch_kincaid_grade
from tests.web.conftest import context_of
from tests.web.evenings import evenings
from tests.web.helpers import read_pages

# Grade 7 is the bound of the page's texts, the formula that of Kincaid et al. 1975.
HARDEST = 7.0
SENTENCE_ENDS = (".", "!", "?")
TEXT = {"p", "li", "dd", "caption", "figcaption"}
PAGES = (
    "start", "write", "level", "result", "history", "begin", "hearing", "today", "speed",
    "progress", "learners", "delete", "rename", "error", "lessons", "lesson", "question",
    "answered", "done", "signs", "what",
)  # fmt: skip


@pytest.fixture(scope="module")
def pages(shared_client: TestClient, fixed_now: datetime) -> dict[str, str]:
    """Every page of a learner who has written for some weeks."""
    context = context_of(shared_client)
    evenings(context.store, context.learner, fixed_now, range(1, 15), random.Random(3))
    return read_pages(shared_client)


def sentences(element: Element) -> Iterator[str]:
    """The texts of a page's paragraphs, items and captions that are whole sentences."""
    if element.tag in TEXT and not any(
        inner.tag in TEXT for inner in element.iter() if inner is not element
    ):
        text = " ".join("".join(element.itertext()).split())
        if text.endswith(SENTENCE_ENDS):
            yield text
        return
    for inner in element:
        yield from sentences(inner)


def main_of(page: str) -> Element:
    """The main part of a page."""
    parsed = html5lib.parse(page, namespaceHTMLElements=False)
    found: Element | None = parsed.find(".//main")
    assert found is not None
    return found


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_read_with_ease(pages: dict[str, str], name: str) -> None:
    """The sentences of a page are of grade 7 or lower (Kincaid et al. 1975)."""
    found = list(sentences(main_of(pages[name])))
    assert not found or flesch_kincaid_grade(" ".join(found)) <= HARDEST, found


def test_the_pages_have_sentences(pages: dict[str, str]) -> None:
    """The pages that explain most are among those that are measured."""
    for name in ("start", "result", "today", "speed", "progress", "hearing"):
        assert len(list(sentences(main_of(pages[name])))) >= 2, name


@pytest.mark.parametrize(
    ("text", "grade"),
    [
        ("The cat sat on the mat.", -1.45),
        (
            "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.",
            11.3,
        ),
    ],
)
def test_the_grade_is_the_published_one(text: str, grade: float) -> None:
    """Sentences often used to explain the formula have the grade that is given for them.

    The values are from memory; they follow from 6 words with 6 syllables and from 13 with 24.
    """
    assert flesch_kincaid_grade(text) == pytest.approx(grade, abs=0.05)
