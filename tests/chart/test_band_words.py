from __future__ import annotations

import pytest

from trainer.chart import BAND_WORDS, Action, read_band_words
from trainer.chart.notes import is_note

BAND = {"drums", "bass", "guitar", "keys", "lead"}


@pytest.mark.parametrize(
    ("words", "action"), [(words, row.action) for row in BAND_WORDS for words in row.write]
)
def test_every_word_of_the_table_is_known(words: str, action: Action) -> None:
    """What the table says that musicians write is a note, and read as the row's action alone."""
    assert is_note(words)
    assert [each.action for each in read_band_words(words)] == [action]


@pytest.mark.parametrize(
    ("words", "players"),
    [
        ("Drums out!", {"drums"}),
        ("no drums or bass", {"drums", "bass"}),
        ("keys & bass in", {"keys", "bass"}),
        ("band out", BAND),
        ("all in", {*BAND, "voice"}),
        ("steel answers the vocal", {"keys"}),
        ("fills", {"guitar"}),
        ("a cappella", {"voice"}),
        ("guitar down", {"guitar"}),
    ],
)
def test_the_players_are_those_named(words: str, players: set[str]) -> None:
    """An instruction is for the players that it names."""
    (instruction,) = read_band_words(words)
    assert instruction.players == players


@pytest.mark.parametrize(
    ("words", "action"),
    [
        ("slow down", Action.SLOW_DOWN),
        ("slow it down", Action.SLOW_DOWN),
        ("gradually slow down", Action.SLOW_DOWN),
        ("poco rit.", Action.SLOW_DOWN),
        ("come down slowly", Action.DOWN),
        ("slow build", Action.BUILD),
        ("in time", Action.AS_BEFORE),
        ("back to tempo", Action.A_TEMPO),
    ],
)
def test_slower_is_not_softer(words: str, action: Action) -> None:
    """Words for the tempo are told from words for how loud, and from playing as before."""
    assert [each.action for each in read_band_words(words)] == [action]


def test_a_note_may_say_several_things() -> None:
    """Parts between commas are read one by one."""
    found = read_band_words("drums and bass out, guitar only")
    assert [(each.action, set(each.players)) for each in found] == [
        (Action.OUT, {"drums", "bass"}),
        (Action.ONLY, {"guitar"}),
    ]


@pytest.mark.parametrize(
    "words", ["hey, shout", "watch the singer", "second guitar in", "slow hands"]
)
def test_other_words_are_for_people(words: str) -> None:
    """Words that the band does not know are a note all the same."""
    assert is_note(words)
    assert read_band_words(words) == ()
