"""Two sections cut from a song, and minor songs counted from their relative major."""

from __future__ import annotations

import pytest

from trainer.chart import format_chart, parse
from trainer.exercise import make_exercise
from trainer.exercise.cutting import counted_from_relative_major, section_pairs
from trainer.exercise.recipe_text import recipe_from_dict

SONG = parse(
    "Intro:\n1 1\nVerse 1:\n1 4\nChorus:\n5 1\nVerse 2:\n1 4 5\nBridge:\n[up 2] 4 4\n"
    "Chorus:\n[down 2] 5 1\n"
)


def names(returning: bool) -> list[list[str]]:
    """The names of the sections of each pair."""
    pairs = section_pairs(SONG, returning=returning)
    return [[section.name for section in pair.sections] for pair in pairs]


def test_neighbours_of_different_kinds() -> None:
    """Each two sung sections that follow each other are a pair; an intro is in none."""
    assert names(False) == [
        ["Verse 1", "Chorus"],
        ["Chorus", "Verse 2"],
        ["Verse 2", "Bridge"],
        ["Bridge", "Chorus"],
    ]


def test_a_section_and_its_return() -> None:
    """A returning pair is a section and the last one of its kind, without what is between."""
    assert names(True) == [["Verse 1", "Verse 2"], ["Chorus", "Chorus"]]
    assert not any(
        bar.key_change for pair in section_pairs(SONG, returning=True) for bar in pair.bars()
    )


def test_a_pair_keeps_its_key_change() -> None:
    """Where the key moves between two neighbours, it still does; what came before counts."""
    _, _, up, back = section_pairs(SONG)
    assert [bar.key_change for bar in up.bars()] == [0, 0, 0, 2, 0]
    assert [bar.key_change for bar in back.bars()] == [0, 0, -2, 0]
    assert back.key.pitch_class == (SONG.key.pitch_class + 2) % 12


def test_counted_from_the_relative_major() -> None:
    """The same sounds are written from the 1 a minor third higher (common practice, no source)."""
    minor = parse("key: E minor\n\n1- b6 b7/1 4- 5^7 1-")
    major = counted_from_relative_major(minor)
    assert str(major.key) == "G"
    assert format_chart(major).rstrip().endswith("6- 4 5/6 2- 3^7 6-")
    plain = parse("key: G\n\n1 4 5 1")
    assert counted_from_relative_major(plain) is plain


def test_two_sections_meet_the_recipe() -> None:
    """An exercise of two sections has what its recipe asks of a song, and no section more."""
    asked = {"size": "two sections", "thrice": ["key change"], "features": {"key_change": 1}}
    recipe = recipe_from_dict(asked | {"chords": ["1", "4", "5"], "bars": [8, 24]}, "mine.toml")
    for seed in range(10):
        chart = make_exercise(recipe, seed).chart
        assert len(chart.sections) == 2
        assert 8 <= len(chart.bars()) <= 24
        assert any(bar.key_change for bar in chart.bars())


@pytest.mark.many
def test_within_keeps_a_song_to_what_is_named() -> None:
    """No song has a chord, an extension or a slash chord that `within` leaves out."""
    within = ["chord 1", "chord 4", "chord 5", "chord 6-", "bass 5/7"]
    recipe = recipe_from_dict(
        {"size": "section", "within": within, "features": {"slash_chords": 0.3}}, "mine.toml"
    )
    for seed in range(20):
        named = [s for s in make_exercise(recipe, seed).skills if s.startswith(("chord", "bass"))]
        assert set(named) <= set(within)
