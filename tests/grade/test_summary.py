"""The two sentences that sum an answer up."""

from __future__ import annotations

import pytest

from trainer.chart import parse
from trainer.grade import grade

from .advice_checker import FalseSentence, check_summary

SONG = "Verse 1:\n1 5/7 6- 4 . 1 4 2- 5\nChorus:\n4 5 (1 5) 6- . 2- 5 1 1d\n"


def summed_up(answer: str) -> tuple[str, str]:
    """The summary of an answer, checked."""
    song, written = parse(SONG), parse(answer)
    report = grade(song, written)
    first, second = report.summary
    check_summary(report.summary, report.advice, song, written)
    return first, second


@pytest.mark.parametrize(
    ("answer", "good", "work"),
    [
        (
            SONG,
            "You got all 16 bars right.",
            "There's nothing to fix. Try something harder next.",
        ),
        (
            SONG.replace("-", ""),
            "You got the form, every phrase length and all roots right.",
            "Work on the minor chords: bars 3, 7, 12–13.",
        ),
        (
            SONG.replace("2-", "4"),
            ("You got the form, every phrase length and every bass note under a slash right."),
            "Work on telling 2- from 4: bars 7 and 13.",
        ),
        (
            SONG.replace("1d", "1"),
            "You got the form, every phrase length and all roots right.",
            "Work on holds, pushes and chokes: bar 16.",
        ),
        (
            SONG.replace("(1 5) 6-", "6-"),
            ("You got the form, all roots in Verse 1 and every bass note under a slash right."),
            "Work on counting bars: bar 11.",
        ),
    ],
)
def test_what_was_good_and_what_to_work_on(answer: str, good: str, work: str) -> None:
    """Two sentences that a teacher would say, both true."""
    assert summed_up(answer) == (good, work.replace("7, 12–13", "7 and 12–13"))


def test_nothing_is_praised_that_is_wrong() -> None:
    """Where no bar is right, the writing is."""
    first, second = summed_up("b2 b3 b6 b2 b6 b3 b2 b6 b3 b2 b3 b6 b2 b6 b3 b2")
    assert first == "You kept going: you wrote 16 bars."
    assert second.startswith("Work on one phrase at a time: ")


def test_an_empty_answer_is_told_where_to_begin() -> None:
    """Without a chart there is one thing to do."""
    report = grade(parse(SONG), None)
    assert report.summary == (
        "You haven't written anything yet.",
        "Write down one phrase: count its bars, and find the 1.",
    )


def test_what_was_meant_is_praised() -> None:
    """From another 1 and counted double, what is right once that is undone is said to be right."""
    song = "1 4 1 5 . 6- 4 1 5 . 1 4 2- 5 . 1 4 5 1"
    shifted = grade(parse(song), parse("5 1 5 2 . 3- 1 5 2 . 5 1 6- 2 . 5 1 2 5"))
    assert shifted.summary[0] == "Counted from the song's 1, you got all 16 bars right."
    bars = [f"{bar} {bar}" if bar != "." else bar for bar in song.split()]
    double = grade(parse(song), parse(" ".join(bars)))
    assert double.summary == (
        "With the bars counted as the band plays them, you got all 16 bars right.",
        "Work on where each bar begins and ends: bars 1–16.",
    )


@pytest.mark.parametrize(
    "summary",
    [
        ("You got the form and all roots right.", "Work on the minor chords: bar 7."),
        ("You got every phrase length right.", "Work on the minor chords: bar 8."),
        ("You got 16 of 16 bars right.", "Work on the minor chords: bar 7."),
        ("You got every hold right.", "Work on the minor chords: bar 7."),
        ("You did well.", "Work on the minor chords: bar 7."),
        ("You got every phrase length right.", "Work harder."),
    ],
)
def test_false_summaries_are_found(summary: tuple[str, str]) -> None:
    """The checker itself tells roots, bars, counts and unknown sentences."""
    song, written = parse(SONG), parse(SONG.replace("2- 5\n", "4 5\n").replace("1d", "1"))
    report = grade(song, written)
    with pytest.raises(FalseSentence):
        check_summary(summary, [one for one in report.advice if "7" in one.text], song, written)
