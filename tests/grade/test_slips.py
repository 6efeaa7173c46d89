"""What one slip made throughout takes away."""

from __future__ import annotations

import pytest

from trainer.chart import parse
from trainer.grade import Weights, grade

BARS = Weights(phrases=0.0, form=0.0)
SONG = "Verse:\n1 4 1 5 . 1 4 1 5\n6- 4 1 5 . 2- 5 1 1\n1 4 1 5 . 1 4 5 1"


def lost(answer: str, song: str = SONG) -> float:
    """How many bars the answer lost."""
    return len(parse(song).bars()) * (1 - grade(parse(song), parse(answer), weights=BARS).score)


def every(chord: str, other: str) -> str:
    """The song with one chord written as another wherever it comes."""
    return "\n".join(
        " ".join(other if word == chord else word for word in line.split(" "))
        for line in SONG.splitlines()
    )


@pytest.mark.parametrize(("chord", "other", "once"), [("4", "5", 1.0), ("1", "6-", 0.75)])
def test_one_chord_for_another_throughout_counts_once_and_a_half(
    chord: str, other: str, once: float
) -> None:
    """However often it is made."""
    assert lost(every(chord, other)) == pytest.approx(1.5 * once)


def test_two_chords_written_for_each_other_count_so_each() -> None:
    """Every 4 as 5 and every 5 as 4: one and a half bars each."""
    exchanged = every("4", "x").replace("5", "4").replace("x", "5")
    assert lost(exchanged) == pytest.approx(3.0)


def test_the_one_that_lost_most_is_spared_alone() -> None:
    """Who takes three chords for others has not made one slip."""
    two = lost(every("4", "2-").replace("1", "6-"))
    assert two > lost(every("1", "6-")) + lost(every("4", "2-"))
