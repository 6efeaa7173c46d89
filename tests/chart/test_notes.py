from __future__ import annotations

from fractions import Fraction

import pytest

from trainer.chart import (
    Articulation,
    Key,
    called_in,
    excerpt,
    format_chart,
    parse,
    parse_tolerant,
    say_bar,
    say_section,
    without_notes,
)
from trainer.errors import ChartError, NotationError
from trainer.grade import grade

SESSION = """title: Ferry Bell
meter: 4/4
tempo: 92
feel: straight
key: Bb
capo: 3
count-off: 2 bars
@ Friday's singer wants it slower

Verse 1: [drums out] [half the band]
@ she sings behind the beat
1 1 [build] 5 5
1 4 5 5c
*12+4 1 *13 (5 1p) 5 5 @ watch the hits
@ twice at rehearsal

Chorus: [full band]
1 4 5 1 . 1 4 5 1
"""


def test_a_session_chart_carries_what_is_said() -> None:
    """Header, notes, hits and comments are read where they belong, and written back the same."""
    chart = parse(SESSION)
    assert format_chart(chart) == SESSION
    assert (chart.capo, chart.count_off) == (3, 2)
    assert chart.comments == ("Friday's singer wants it slower",)
    verse = chart.sections[0]
    assert verse.notes == ("drums out", "half the band")
    assert verse.comments == ("she sings behind the beat",)
    assert [bar.notes for bar in chart.bars()[:4]] == [(), (), ("build",), ()]
    assert chart.bars()[8].hits == (Fraction(0), Fraction(3, 2), Fraction(3))
    assert [phrase.comments for phrase in verse.phrases] == [
        (), (), ("watch the hits", "twice at rehearsal"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    "text",
    [
        "Verse: [drums out]\n1 4",
        "Verse:\n[drums out]\n1 4",
        "Verse [drums out]\n1 4",
        "[drums out] Verse\n1 4",
        "Verse: [drums out] 1 4",
        "V [ drums  out ]:\n1 4",
    ],
)
def test_a_note_beside_a_name_is_about_the_section(text: str) -> None:
    """A note on the line of a section's name, or alone under it, is the section's."""
    if text.startswith("V ["):
        text = text.replace("V [ drums  out ]:", "V: [ drums  out ]")
    chart = parse(text)
    assert chart.sections[0].notes == ("drums out",)
    assert [bar.notes for bar in chart.bars()] == [(), ()]


@pytest.mark.parametrize(
    "text",
    ["1 4 [build] 5 1", "1 4\n[build up]\n5 1", "1 4\n[build] 5 1", "| 1 | 4 | [build] 5 | 1 |"],
)
def test_a_note_before_a_bar_is_about_the_bar(text: str) -> None:
    """A note among the bars begins at the bar after it, even if a section may be called so."""
    (section,) = parse(text).sections
    assert [bool(bar.notes) for phrase in section.phrases for bar in phrase.bars] == [
        False, False, True, False,
    ]  # fmt: skip


def test_a_bracketed_name_alone_is_a_section() -> None:
    """[Build] alone on its line is a section's name, as [Chorus] is."""
    assert [section.name for section in parse("1 4\n[Build]\n5 1").sections] == ["", "Build"]


@pytest.mark.parametrize(
    ("written", "articulation"),
    [("[choke] 5", Articulation.CHOKE), ("[hold] 5", Articulation.HOLD), ("[push] 5", "push")],
)
def test_an_articulation_in_words_is_its_sign(written: str, articulation: str) -> None:
    """[choke] before a bar is the choke on its chord, not a note."""
    (bar,) = parse(written).bars()
    assert bar.events[0].articulation == articulation
    assert bar.notes == ()


def test_a_choke_in_words_is_for_the_last_chord_and_a_push_for_the_first() -> None:
    """In a split bar the band stops on the last chord, and is pushed into the first."""
    assert format_chart(parse("[choke] (1 5)")).endswith("(1 5c)\n")
    assert format_chart(parse("[push] (1 5)")).endswith("(1p 5)\n")


@pytest.mark.parametrize(
    ("text", "column", "expected"),
    [
        ("*15 1", 1, "beats from 1 to 4 in order, + for the eighth after one, as in *12+4"),
        ("*21 1", 1, "beats from 1 to 4 in order, + for the eighth after one, as in *12+4"),
        ("1 *1 (1 5)", 3, "a hit on every chord of the bar"),
        ("*12 1d", 1, "one hit on a chord that is held"),
        ("*1 *2 1", 4, "one row of hits to a bar"),
        ("1 *2", 3, "a bar after it on the same line, which it is for"),
        ("[choke] 0", 1, "a chord without a hold, push or choke, as in [choke] 1"),
        ("meter: 12/8\n*15 1", 1, "beats from 1 to 12 in order, as in *1,4,7"),
        ("meter: 6/8\n*1+ 1", 1, "beats from 1 to 6 in order, as in *13"),
        ("[drums out]", 1, "a bar after it"),
        ("capo: 12\n1", 7, "a fret from 1 to 9, or none"),
        ("count-off: 4\n1", 12, "1 bar, 2 bars or none"),
    ],
)
def test_what_cannot_be_said_is_told(text: str, column: int, expected: str) -> None:
    """A problem gives the place, and what was expected instead."""
    with pytest.raises(NotationError) as caught:
        parse(text)
    assert [(each.column, each.expected) for each in caught.value.problems] == [(column, expected)]


def test_a_bar_with_hits_that_cannot_be_played_keeps_its_chords() -> None:
    """The tolerant reading keeps the chords and marks the bar."""
    result = parse_tolerant("1 *9 4 5")
    assert result.chart is not None
    assert [str(bar.events[0].chord) for bar in result.chart.bars()] == ["1", "4", "5"]
    assert result.invalid_bars == {2}


@pytest.mark.parametrize("text", ["*1,4,7,10 1", "*1,4,10+ 1"])
def test_hits_of_long_bars_have_commas(text: str) -> None:
    """In 12/8 commas part the beats, and eighths are beats themselves."""
    result = parse_tolerant(f"meter: 12/8\n{text}")
    assert bool(result.problems) == text.endswith("10+ 1")


def test_a_comment_in_a_title_is_the_title() -> None:
    """A title line is read as a whole, so that a title may hold the sign."""
    assert parse("title: Down @ the mill\n1").title == "Down @ the mill"


def test_a_key_change_in_words_is_no_note() -> None:
    """Words that change the key or the way through are never taken for a note in silence."""
    for words in ("[up a step]", "[in D]", "[key change: D]"):
        assert parse_tolerant(f"1 {words} 4").problems, words


def test_notes_are_spoken() -> None:
    """A screen reader hears the notes before the chords and the hits after them."""
    chart = parse(SESSION)
    assert say_bar(chart.bars()[2]) == "build: five"
    assert say_bar(chart.bars()[8]) == "one, hits on one, the and of two and four"
    assert say_section(chart.sections[0]).startswith("Verse 1, drums out, half the band:")


def test_grading_ignores_what_is_said() -> None:
    """A chart and the same without its notes are the same answer."""
    chart = parse(SESSION)
    bare = without_notes(chart)
    assert "[" not in format_chart(bare)
    assert "@" not in format_chart(bare)
    assert grade(chart, bare).score == grade(bare, chart).score == 1.0


def test_an_excerpt_knows_what_was_said_before_it() -> None:
    """Bars taken from the middle of a section keep the notes that still hold there."""
    assert excerpt(parse(SESSION), 5, 8).sections[0].notes == (
        "drums out",
        "half the band",
        "build",
    )


def test_the_capo_keeps_the_shapes_in_another_key() -> None:
    """Shapes of G with the capo at 3 are Bb; in A the same shapes are at 2, in F# at none."""
    chart = parse(SESSION)
    assert called_in(chart, Key("A")).capo == 2
    assert called_in(chart, Key("G")).capo == 0
    assert called_in(chart, Key("F", 1)).capo is None


def test_a_section_without_a_name_has_no_notes() -> None:
    """Notes about a section stand beside its name."""
    section = parse("1 4").sections[0]
    with pytest.raises(ChartError, match="no name"):
        type(section)("", section.phrases, ("drums out",))
