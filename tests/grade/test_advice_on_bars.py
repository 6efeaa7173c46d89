"""What is said of bars that were not played, not written, or that stand in another order."""

from __future__ import annotations

import pytest

from trainer.chart import parse

from .advice_checker import FalseSentence, check_advice
from .test_advice_checker import advice
from .test_advice_on_chords import told

SECTIONS = "V:\n1 4 5 1\nC:\n4 5 1 6-\nV:\n1 4 5 1"
TWICE = "1 4 5 1 . 4 5 1 6- . 4 5 1 6- . 2- 3- 4 5"


@pytest.mark.parametrize(
    ("song", "answer", "said"),
    [
        (
            TWICE,
            TWICE.replace(". 2-", ". 4 5 1 6- . 2-"),
            (
                "Your bars 13–16 (4 5 1 6-) repeat the phrase before: the band played it twice "
                "and you wrote it three times; after bar 12 comes 2-."
            ),
        ),
        (
            "1 4 5 1 . 4 5 1 6- . 2- 3- 4 5",
            TWICE.replace(". 2-", ". 4 5 1 6- . 2-"),
            (
                "Your bars 9–16 (4 5 1 6- …) repeat the phrase before: the band played it once "
                "and you wrote it three times; after bar 8 comes 2-."
            ),
        ),
        (
            SECTIONS,
            SECTIONS.replace("C:\n", "C:\n4 5 1 6-\nC:\n"),
            (
                "Your bars 9–12 (4 5 1 6-) repeat the section before: the band played it once "
                "and you wrote it twice; after bar 8 comes 1."
            ),
        ),
        (
            TWICE,
            TWICE.replace(". 2-", ". 4 5 2 6- . 2-"),
            (
                "The band didn't play your bars 13–16 (4 5 2 6-): they're much like your bars "
                "9–12, and after bar 12 comes 2-."
            ),
        ),
        (
            "1 1 4 4 . 5 5 1 1",
            "1 1 1 4 4 . 5 5 1 1",
            (
                "Your bar 3 (1) repeats the bar before: the band played 1 for two bars and you "
                "wrote it for three; after bar 2 comes 4."
            ),
        ),
        (
            "1 4 5 1 . 4 5 1 1",
            "2 2 1 4 5 1 . 4 5 1 1",
            ("The band didn't play your bars 1–2 (2 2): the song starts with 1."),
        ),
    ],
)
def test_bars_too_many_are_told_by_how_often_they_were_played(
    song: str, answer: str, said: str
) -> None:
    """What was played once is not what was played twice; what comes next is named."""
    (text,) = told(song, answer)
    assert text.startswith(said)


def test_bars_left_out_in_several_places_are_each_named() -> None:
    """Each with its chord and the length of its phrase, the same ones together."""
    song = "1 4 5 6- 1 . 4 5 1 2- . 1 4 5 6- 1 . 4 [2/4] 5 1 1"
    (text,) = told(song, "1 4 5 1 . 4 5 1 . 1 4 5 1 . 4 1 1")
    assert text.startswith(
        "You left out bars 4, 9, 13 and 16: the band played 6- in bars 4 and 13 "
        "(phrases of five bars), 2- in bar 9 (a phrase of four bars) and 5, a short "
        "bar of 2/4, in bar 16 (a phrase of four bars)."
    )


def test_like_bars_left_out_are_named_once() -> None:
    """Of two phrases that lose the same bar, the chord is said for both."""
    (text,) = told("1 4 5 1 2- . 4 5 1 2- 6-", "1 4 5 1 . 4 5 1 6-")
    assert text.startswith(
        "You left out bars 5 and 9: the band played 2- in each (phrases of five bars)."
    )


def test_a_bar_doubled_in_a_chart_from_another_1_is_called_so() -> None:
    """What is repeated is named as it was played."""
    song = "1- b6 b3 b7 . 1- b6 b3 b7 . 4- b6 b7 1-"
    texts = told(song, "6- 4 1 5 . 6- 4 1 5 5 . 2- 4 5 6-")
    assert (
        "Your bar 9 (5) repeats the bar before: the band played b7 for one bar and you" in texts[1]
    )


@pytest.mark.parametrize(
    ("song", "answer", "said"),
    [
        (
            "1 4 5 1 . 1 4 [2/4] 5 1",
            "1 4 5 1 . 1 [2/4] 4 5 1",
            ("The bar of 2/4 is bar 7, but you wrote it at bar 6."),
        ),
        (
            "1 (4 5) 6- 1 . 4 5 1 1",
            "1 (5 4) 6- 1 . 4 5 1 1",
            (
                "Bar 2: you have the right two chords in the wrong order. The band played (4 5), "
                "and you wrote (5 4)."
            ),
        ),
        (
            "1 4 [2/4] 5 1 . 4 5 1 1",
            "1 (4 5) 1 . 4 5 1 1",
            ("Bars 2–3 are two bars, 4 5 (bar 3 is a bar of 2/4), and you wrote one, (4 5)."),
        ),
    ],
)
def test_one_act_is_one_sentence(song: str, answer: str, said: str) -> None:
    """A short bar in another place, two chords in the other order, a short bar written as half."""
    (text,) = told(song, answer)
    assert text.startswith(said)


def test_four_bars_with_nothing_right_are_told_bar_by_bar() -> None:
    """Of a short chart, every wrong bar is spoken of."""
    texts = told("1 4 5 1", "3 b7 2 7o")
    assert len(texts) == 4
    assert {text[:5] for text in texts} == {"Bar 1", "Bar 2", "Bar 3", "Bar 4"}


def test_a_hold_in_a_section_that_is_counted_half_is_in_its_place() -> None:
    """The one bar that stands for the last two has the hold of the second: no other sentence."""
    verse, tag = "1 4 5 1 . 1 4 5 1", "4 4 1 1 . 5 5 1 1d"
    (text,) = told(f"Verse:\n{verse}\nTag:\n{tag}\n", f"Verse:\n{verse}\nTag:\n4 1 5 1d\n")
    assert text.startswith("In Tag (bars 9–16) you wrote one bar for every two bars")


ANSWER = "1 4 5 1 . 4 5 1 6- . 4 5 1 6- . 4 5 1 6- . 2- 3- 4 5"
AGAIN = [(None, bar, "", "1") for bar in range(13, 17)]


@pytest.mark.parametrize(
    "text",
    [
        (
            "Your bars 13–16 (4 5 1 6-) repeat the phrase before: the band played it once "
            "and you wrote it three times; after bar 12 comes 2-."
        ),
        (
            "Your bars 13–16 (4 5 1 6-) repeat the phrase before: the band played it twice "
            "and you wrote it three times; after bar 12 comes 4."
        ),
        (
            "Your bars 13–16 (4 5 1 6-) repeat a phrase that was played once: the song goes "
            "straight from bar 12 to bar 13."
        ),
        (
            "The band didn't play your bars 13–16 (4 5 1 6-): they're much like your bars "
            "1–4, and after bar 12 comes 2-."
        ),
    ],
)
def test_false_sentences_on_bars_too_many_are_found(text: str) -> None:
    """The checker counts for itself how often a phrase was played."""
    with pytest.raises(FalseSentence):
        check_advice(advice(text, *AGAIN), parse(TWICE), parse(ANSWER))
