from __future__ import annotations

from fractions import Fraction

import pytest

from tests.chart.test_parse import SONG
from trainer.chart import (
    Bar,
    Chart,
    Chord,
    Event,
    Feel,
    Key,
    Meter,
    Phrase,
    Section,
    format_chart,
    parse,
)
from trainer.chart.format import format_tempo
from trainer.chart.model import MOST_CHARACTERS


def body(text: str) -> str:
    """The canonical text below the header."""
    return format_chart(parse(text)).split("\n\n", 1)[1].rstrip("\n")


def test_the_design_example_is_canonical() -> None:
    """The notation's own example is written as it stands."""
    assert format_chart(parse(SONG)) == SONG


def test_the_header_is_written_whole_but_for_an_empty_title() -> None:
    """Meter, tempo, feel and key are always written; a title only if there is one."""
    assert format_chart(parse("1")) == "meter: 4/4\ntempo: 100\nfeel: straight\nkey: C\n\n1\n"


@pytest.mark.parametrize(
    ("typed", "canonical"),
    [
        ("1155", "1 1 5 5"),
        ("(1'' 5'')", "(1 5)"),
        ("1''''", "1"),
        ("(1d''' 5p')", "(1'''d 5'p)"),
        ("(1 5)", "(1 5)"),
        ("[4/4] 1", "1"),
        ("[2/4][up 2]1", "[up 2] [2/4] 1"),
        ("[ 3 / 4 ] 1", "[3/4] 1"),
        ("♭7 6– #4°", "b7 6- #4o"),
        ("1/1", "1"),
        ("(1)", "1"),
        ("(15/7)", "(1 5/7)"),
        ("key: D\n[key E] 1", "[up 2] 1"),
        ("7hdim 7Ø^7", "7ø 7ø^7"),
        ("1 4 .", "1 4"),
        ("1 1 1 1\n4 4 4 4", "1 1 1 1 . 4 4 4 4"),
        ("1 1 1 1 1 1 . 4 4", "1 1 1 1 1 1\n4 4"),
        ("1 . 4 . 5", "1 . 4\n5"),
        ("(1 4) (1 4) (1 4) (1 4)\n5", "(1 4) (1 4) (1 4) (1 4)\n5"),
        ("1 [2/4] 5 . 4", "1 [2/4] 5\n4"),
        ("[up 2] 1 . 4", "[up 2] 1\n4"),
        ("A:\n1\nB:\n5", "A:\n1\n\nB:\n5"),
    ],
)
def test_one_canonical_layout(typed: str, canonical: str) -> None:
    """However it was typed, a chart is written in one way; short plain phrases share lines."""
    assert body(typed) == canonical
    assert body(canonical) == canonical


@pytest.mark.parametrize(
    ("tempo", "text"),
    [(92.0, "92"), (92.5, "92.5"), (20, "20"), (100 / 3 + 20, "53.333333333333336")],
)
def test_tempo(tempo: float, text: str) -> None:
    """A tempo is written exactly, whole ones without a point."""
    assert format_tempo(tempo) == text
    assert float(text) == tempo


def test_the_longest_chart_can_be_read_back() -> None:
    """A chart as long as the model holds is written within the reader's limit."""
    bar = Bar(Meter(4, 4), (Event(Chord(7, -1, "", "maj7"), Fraction(4)),))
    chart = Chart("", Meter(4, 4), 100.0, Feel.STRAIGHT, Key("C"),
                  (Section("", (Phrase((bar,) * 1_500),)),))  # fmt: skip
    text = format_chart(chart)
    assert 10_000 < len(text) <= MOST_CHARACTERS
    assert parse(text) == chart
