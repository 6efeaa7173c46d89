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
        ("6", "6-", "Listen to the third: it is #1, bright (major), not 1."),
        ("3", "3-", "Listen to the third: it is #5, bright (major), not 5."),
        ("7", "7-", "Listen to the third: it is #2, bright (major), not 2."),
        ("b6-", "b6", "Listen to the third: it is b1, dark (minor), not 1."),
        ("1+", "1", "the note #5 sounds, not 5."),
        ("#5o", "5", "listen to the bass: it is on #5, not 5."),
        ("6", "4", "They share one note (6)"),
        ("6/#1", "6", "It is #1, not 6."),
    ],
)
def test_notes_are_spelled_as_in_their_chord(played: str, written: str, said: str) -> None:
    """The third of 6 is #1 and the fifth of 1+ is #5: two and four numbers above the root."""
    (text,) = told(f"1 4 5 1 . 1 {played} 4 1", f"1 4 5 1 . 1 {written} 4 1")
    assert said in text


@pytest.mark.parametrize(
    ("played", "written", "said"),
    [
        ("5^9sus4", "4/5", "(1, 4, 5 and 6), the bass among them; listen above it: 2 sounds too."),
        ("4/5", "5^9sus4", "They share four notes (1, 4, 5 and 6), the bass among them; listen"),
        ("b7/1", "1^9sus4", "(1, 2, 4 and b7), the bass among them; listen above it: 5 is not"),
        ("4/5", "5", "They share only the bass (5); listen above it: 1, 4 and 6 sound, not 2 and"),
        ("4/3", "1/5", "They share two notes (1 and 3); listen to the bass: it is on 3, not 5."),
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
    assert first.startswith("Bars 3 and 7: 5 was played, 5- is written")
    assert second == (
        "Bar 2: b7 was played, 7 is written. The flat is missing: the bass is on b7, not 7."
    )
    (text,) = told("1 #4o 5 1 . 1 4 5 1", "1 4o 5 1 . 1 4 5 1")
    assert "The sharp is missing: the bass is on #4, not 4." in text


def test_minor_chords_that_are_exchanged_keep_their_minus() -> None:
    """4- and 5- for each other are not called 4 and 5."""
    song = "1- 4- 1- 5- . 1- 4- 1- 5-"
    (text,) = told(song, song.replace("4", "x").replace("5", "4").replace("x", "5"))
    assert text.startswith("4- and 5- are exchanged: 4- was played and 5- is written in bars 2 and")


SONG, ANSWER = parse("1 6 4 5 . 1 5^9sus4 b7 1"), parse("1 6- 4 5 . 1 4/5 7 1")
THIRD, SUS, FLAT = (2, 2, "6", "6-"), (6, 6, "5^9sus4", "4/5"), (7, 7, "b7", "7")


@pytest.mark.parametrize(
    ("text", "case"),
    [
        (
            (
                "Bar 2: 6 was played, 6- is written. The root is right; only the third differs. "
                "Listen to the third: it is b2, bright (major), not 1."
            ),
            THIRD,
        ),
        (
            (
                "Bar 6: 5^9sus4 was played, 4/5 is written. They share three notes (1, 4 and 6), "
                "the bass among them; listen above it: 2 and 5 sound too."
            ),
            SUS,
        ),
        (
            "Bar 7: b7 was played, 7 is written. They share no note; listen to the bass.",
            FLAT,
        ),
        (
            ("Bar 7: b7 was played, 7 is written. The sharp is missing: the bass is on b7, not 7."),
            FLAT,
        ),
        (
            (
                "Bar 6: 5^9sus4 was played, 4/5 is written. The flat is missing: the bass is on 5, "
                "not 5."
            ),
            SUS,
        ),
    ],
)
def test_false_sentences_on_notes_are_found(text: str, case: tuple[int, int, str, str]) -> None:
    """The checker tells a wrong spelling, a bass not counted, a sign that is not missing."""
    with pytest.raises(FalseSentence):
        check_advice(advice(text, case), SONG, ANSWER)
