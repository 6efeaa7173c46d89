"""How notes are spelled and counted when two chords are compared."""

from __future__ import annotations

import pytest

from trainer.chart import parse
from trainer.grade import grade

from .advice_checker import FalseSentence, check_advice
from .test_advice_checker import advice


def told(song: str, answer: str) -> list[str]:
    """What is said of an answer, all of it true."""
    report = grade(parse(song), parse(answer))
    check_advice(report.advice, parse(song), parse(answer))
    return [one.text for one in report.advice]


@pytest.mark.parametrize(
    ("played", "written", "said"),
    [
        ("6", "6-", "Listen to the third: it's #1 (major, brighter), not 1."),
        ("3", "3-", "Listen to the third: it's #5 (major, brighter), not 5."),
        ("7", "7-", "Listen to the third: it's #2 (major, brighter), not 2."),
        ("b6-", "b6", "Listen to the third: it's b1 (minor, darker), not 1."),
        ("1+", "1", "it has #5, not 5."),
        ("#5o", "5", "Listen to the bass: it's on #5, not 5."),
        ("6", "4", "The chords share one note (6)"),
        ("6/#1", "6", "Listen to the lowest note: it's #1, not 6."),
    ],
)
def test_notes_are_spelled_as_in_their_chord(played: str, written: str, said: str) -> None:
    """The third of 6 is #1 and the fifth of 1+ is #5: two and four numbers above the root."""
    (text,) = told(f"1 4 5 1 . 1 {played} 4 1", f"1 4 5 1 . 1 {written} 4 1")
    assert said in text


@pytest.mark.parametrize(
    ("played", "written", "said"),
    [
        (
            "5^9sus4",
            "4/5",
            ("(1, 4, 5 and 6), including the bass. Listen above the bass: you hear 2 as well."),
        ),
        (
            "4/5",
            "5^9sus4",
            "The chords share four notes (1, 4, 5 and 6), including the bass. Listen",
        ),
        ("b7/1", "1^9sus4", "(1, 2, 4 and b7), including the bass. Listen above the bass: 5 isn't"),
        (
            "4/5",
            "5",
            (
                "The chords share only the bass (5). Listen above the bass: you hear 1, 4 and "
                "6, not 2 and"
            ),
        ),
        (
            "4/3",
            "1/5",
            "The chords share two notes (1 and 3). Listen to the bass: it's on 3, not 5.",
        ),
    ],
)
def test_notes_in_common_count_the_basses(played: str, written: str, said: str) -> None:
    """A note that is in one chord and the bass of the other is in both."""
    (text,) = told(f"1 4 5 1 . 1 {played} 4 1", f"1 4 5 1 . 1 {written} 4 1")
    assert said in text


def test_a_forgotten_flat_is_called_so_and_comes_behind_bigger_things() -> None:
    """7 for b7 is no chord that shares no note, and two chords heard wrongly come first."""
    song = "1- b7 5 4- . 1- 4- 5 1- . 1- 4- 5 1-"
    first, second = told(song, "1- 7 5- 4- . 1- 4- 5- 1- . 1- 4- 5 1-")
    assert first.startswith("Bars 3 and 7: the band played 5 and you wrote 5-")
    assert second == (
        "Bar 2: the band played b7 and you wrote 7. You forgot the flat: the bass is on b7, not 7."
    )
    (text,) = told("1 #4o 5 1 . 1 4 5 1", "1 4o 5 1 . 1 4 5 1")
    assert "You forgot the sharp: the bass is on #4, not 4." in text


def test_minor_chords_that_are_exchanged_keep_their_minus() -> None:
    """4- and 5- for each other are not called 4 and 5."""
    song = "1- 4- 1- 5- . 1- 4- 1- 5-"
    (text,) = told(song, song.replace("4", "x").replace("5", "4").replace("x", "5"))
    assert text.startswith("You swapped 4- and 5-: you wrote 5- for 4- in bars 2 and")


SONG, ANSWER = parse("1 6 4 5 . 1 5^9sus4 b7 1"), parse("1 6- 4 5 . 1 4/5 7 1")
THIRD, SUS, FLAT = (2, 2, "6", "6-"), (6, 6, "5^9sus4", "4/5"), (7, 7, "b7", "7")


@pytest.mark.parametrize(
    ("text", "case"),
    [
        (
            (
                "Bar 2: the band played 6 and you wrote 6-. You have the right root but not "
                "the third. Listen to the third: it's b2 (major, brighter), not 1."
            ),
            THIRD,
        ),
        (
            (
                "Bar 6: the band played 5^9sus4 and you wrote 4/5. The chords share three "
                "notes (1, 4 and 6), including the bass. Listen above the bass: you hear 2 and "
                "5 as well."
            ),
            SUS,
        ),
        (
            (
                "Bar 7: the band played b7 and you wrote 7. The chords share no notes. Listen "
                "to the bass."
            ),
            FLAT,
        ),
        (
            (
                "Bar 7: the band played b7 and you wrote 7. You forgot the sharp: the bass "
                "is on b7, not 7."
            ),
            FLAT,
        ),
        (
            (
                "Bar 6: the band played 5^9sus4 and you wrote 4/5. You forgot the flat: the "
                "bass is on 5, not 5."
            ),
            SUS,
        ),
    ],
)
def test_false_sentences_on_notes_are_found(text: str, case: tuple[int, int, str, str]) -> None:
    """The checker tells a wrong spelling, a bass not counted, a sign that is not missing."""
    with pytest.raises(FalseSentence):
        check_advice(advice(text, case), SONG, ANSWER)
