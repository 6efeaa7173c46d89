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
            "Section labels: you labelled Verse (bar 17) C, but Verse (bar 1) A.",
        ),
        (
            SONG,
            f"Verse:\n{A}\nBridge:\n{B}\nVerse:\n{A}\n",
            "Section labels: you labelled Chorus (bar 9) Bridge.",
        ),
        (
            PRE,
            f"Verse:\n{A}\nChorus:\n2- 4 5 5 . {B}\n",
            (
                "Section labels: you put Pre-Chorus (bars 9–12) under Chorus, and Chorus "
                "begins at bar 13."
            ),
        ),
        (SONG, f"{A} . {B} . {A}", "Section labels: you gave Verse and Chorus no label."),
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
        "You wrote Verse 2 (bars 17–25) the same as Verse 1 (bars 1–8), but the song "
        "differs in bars 18 and 23. Listen for what's new when a section comes back."
    )
    assert len(texts) == 3


@pytest.mark.parametrize(
    "text",
    [
        "Section labels: you labelled Verse (bar 1) C, but Verse (bar 17) A.",
        "Section labels: Chorus was played and has no label; C is written instead.",
        "Section labels: you labelled Chorus (bar 9) A.",
        "Section labels: you put Chorus (bars 9–12) under A.",
        (
            "You wrote Chorus (bars 9–16) the same as Verse (bars 1–8), but the song "
            "differs in bar 9."
        ),
    ],
)
def test_false_sentences_on_labels_are_found(text: str) -> None:
    """The checker reads the labels for itself."""
    answer = parse(f"A:\n{A}\nB:\n{B}\nC:\n{A}\n")
    with pytest.raises(FalseSentence):
        check_advice(advice(text, (9, None, "", "")), parse(SONG), answer)
