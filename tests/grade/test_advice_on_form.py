"""What is said of the labels of sections, and of a section that is written again."""

from __future__ import annotations

import pytest

from trainer.chart import parse

from .advice_checker import FalseSentence, check_advice
from .test_advice_checker import advice
from .test_advice_on_chords import told

A, B = "1 5 6- 4 . 1 5 4 4", "2- 4 5 5 . 2- 4 1 1"
SONG = f"Verse:\n{A}\nChorus:\n{B}\nVerse:\n{A}\n"
PRE = f"Verse:\n{A}\nPre-Chorus:\n2- 4 5 5\nChorus:\n{B}\n"


@pytest.mark.parametrize(
    ("song", "answer", "said"),
    [
        (
            SONG,
            f"A:\n{A}\nB:\n{B}\nC:\n{A}\n",
            "Section labels: Verse at bar 17 is labelled C, but Verse at bar 1 is your A.",
        ),
        (
            SONG,
            f"Verse:\n{A}\nBridge:\n{B}\nVerse:\n{A}\n",
            "Section labels: Chorus at bar 9 is labelled Bridge.",
        ),
        (
            PRE,
            f"Verse:\n{A}\nChorus:\n2- 4 5 5 . {B}\n",
            (
                "Section labels: Pre-Chorus (bars 9–12) stands under your Chorus, and Chorus "
                "begins at bar 13."
            ),
        ),
        (SONG, f"{A} . {B} . {A}", "Section labels: Verse and Chorus have no label in your chart."),
    ],
)
def test_labels_are_told_where_they_are_wrong(song: str, answer: str, said: str) -> None:
    """A wrong label is not a missing one, and what is inconsistent is named with its place."""
    assert told(song, answer) == [said]


def test_a_section_that_is_copied_is_said_to_be_first() -> None:
    """Verse 2 as Verse 1 was: where the song differs, before what is wrong by it."""
    song = f"Verse 1:\n{A}\nChorus:\n{B}\nVerse 2:\n1 3- 6- 4 . 1 5 2 4 4\n"
    texts = told(song, f"Verse 1:\n{A}\nChorus:\n{B}\nVerse 2:\n{A}\n")
    assert texts[0] == (
        "Verse 2 (bars 17–25) is your Verse 1 (bars 1–8) written again; the song differs in bars "
        "18 and 23. Listen for what is new where a section comes back."
    )
    assert len(texts) == 3


@pytest.mark.parametrize(
    "text",
    [
        "Section labels: Verse at bar 1 is labelled C, but Verse at bar 17 is your A.",
        "Section labels: Chorus was played and has no label; C is written instead.",
        "Section labels: Chorus at bar 9 is labelled A.",
        "Section labels: Chorus (bars 9–12) stands under your A.",
        "Chorus (bars 9–16) is your Verse (bars 1–8) written again; the song differs in bar 9.",
    ],
)
def test_false_sentences_on_labels_are_found(text: str) -> None:
    """The checker reads the labels for itself."""
    answer = parse(f"A:\n{A}\nB:\n{B}\nC:\n{A}\n")
    with pytest.raises(FalseSentence):
        check_advice(advice(text, (9, None, "", "")), parse(SONG), answer)
