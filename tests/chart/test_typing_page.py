"""What docs/typing.md says can be typed is read, and what it says is asked about is asked about."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from trainer.chart import Header, Key, parse_tolerant

PAGE = (Path(__file__).parents[2] / "docs" / "typing.md").read_text(encoding="utf-8")
CODE = re.compile(r"`((?:[^`])+)`")
# Rows whose first cells need something around them, or which show what stands in the text.
BESIDE_OTHERS = (
    "`G C D`", "`[up 2]` or", "`Ferry Song` above", "`V` or `V7`", "`Ferry Song` right",
)  # fmt: skip


def examples(heading: str) -> list[str]:
    """The texts typed in the first column of the tables under a heading."""
    part = PAGE.partition(f"## {heading}\n")[2].partition("\n## ")[0]
    rows = [line for line in part.splitlines() if line.startswith("| ") and "`" in line]
    cells = [row.replace(r"\|", "\0").split("|")[1].strip() for row in rows]
    return [
        text.replace("\0", "|")
        for cell in cells
        if not cell.startswith(BESIDE_OTHERS)
        for text in CODE.findall(cell)
    ]


@pytest.mark.parametrize("text", examples("Chords") + examples("Bars and phrases"))
def test_what_is_said_to_be_read_is_read(text: str) -> None:
    """A spelling of the page is read with nothing wrong and nothing asked, alone or after a bar."""
    after = f"4 4 4 4 {text}" if text.startswith(("x", "(2x", "%")) else f"4\n{text}"
    result = parse_tolerant(after, Header(key=Key("C")))
    assert (result.problems, result.questions) == ((), ())


@pytest.mark.parametrize("text", examples("Names and the top of the chart"))
def test_names_and_headers_are_read(text: str) -> None:
    """A name or a header line of the page is read above bars."""
    result = parse_tolerant(f"{text}\nVerse:\n1 4" if "bpm" in text else f"{text}\n1 4")
    assert result.problems == ()
    assert result.chart is not None


@pytest.mark.parametrize("text", examples("What the program asks about"))
def test_what_is_said_to_be_asked_about_is_asked_about(text: str) -> None:
    """A spelling of the page raises a question and no problem."""
    result = parse_tolerant(f"{text}\n1 4" if text.endswith(":") else text)
    assert result.problems == ()
    assert result.questions


@pytest.mark.parametrize("text", examples("Words for the players, and for people"))
def test_words_for_players_and_people_are_read(text: str) -> None:
    """A note, a comment or a line at the top of the table is read, with the bars after it."""
    result = parse_tolerant(f"{text}\n1 4")
    assert (result.problems, result.questions) == ((), ())
    assert result.chart is not None
