from __future__ import annotations

from fractions import Fraction

import pytest

from trainer.chart import (
    Articulation,
    Bar,
    Chart,
    Chord,
    Degree,
    Event,
    Feel,
    Header,
    Key,
    Meter,
    parse,
)
from trainer.errors import NotationError

SONG = """title: Second Lamp past the Sluice
meter: 4/4
tempo: 92
feel: straight
key: D

Verse 1:
1 1 5 5 . 1 1 5 5 5
4 4 1 1 . (1 5/7) 6- 4 5

Tag:
4 5 1d
"""


def bar_texts(chart: Chart) -> list[str]:
    """Each bar's chords, joined."""
    return ["+".join(str(event.chord or 0) for event in bar.events) for bar in chart.bars()]


def only_bar(text: str) -> Bar:
    """The one bar of a text."""
    (bar,) = parse(text).bars()
    return bar


def beats(text: str) -> list[Fraction]:
    """How long each chord of a one-bar text lasts."""
    return [event.beats for event in only_bar(text).events]


def test_a_whole_song() -> None:
    """Header, sections, phrases, bars and articulations are read as written."""
    chart = parse(SONG)
    assert (chart.title, chart.meter, chart.tempo) == (
        "Second Lamp past the Sluice",
        Meter(4, 4),
        92,
    )
    assert (chart.feel, chart.key) == (Feel.STRAIGHT, Key("D"))
    assert [section.name for section in chart.sections] == ["Verse 1", "Tag"]
    lengths = [[len(p.bars) for p in section.phrases] for section in chart.sections]
    assert lengths == [[4, 5, 4, 4], [3]]
    last = chart.bars()[-1].events[0]
    assert last == Event(Chord(1), Fraction(4), Articulation.HOLD)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1155", ["1", "1", "5", "5"]),
        ("1b7 4", ["1", "b7", "4"]),
        ("1^75", ["1^7", "5"]),
        ("5^7sus4", ["5^7sus4"]),
        ("5^7b91", ["5^7b9", "1"]),
        ("5^7b7", ["5^7", "b7"]),
        ("1^694", ["1^69", "4"]),
        ("1^6 94"[:4], ["1^6"]),
        ("1^135", ["1^13", "5"]),
        ("2-^75^71^maj7", ["2-^7", "5^7", "1^maj7"]),
        ("7ø7o#4o5+", ["7ø", "7o", "#4o", "5+"]),
        ("5/71/34/b7", ["5/7", "1/3", "4/b7"]),
        ("1d5p4c1", ["1", "5", "4", "1"]),
        ("1db7", ["1", "b7"]),
        ("10 1", ["1", "0", "1"]),
        ("(1 5/7)6-", ["1+5/7", "6-"]),
        ("(15/7)6-", ["1+5/7", "6-"]),
        ("(1)5(2/4)", ["1", "5", "2/4"]),
        ("7hdim7hdim^7", ["7ø", "7ø^7"]),
        ("1/1 1-/1 b7/b7", ["1", "1-", "b7"]),
        ("1''''5", ["1", "5"]),
        ("[2/4]1[up 2]1", ["1", "1"]),
    ],
)
def test_chords_need_no_spaces(text: str, expected: list[str]) -> None:
    """A digit, or its accidental, starts a chord; the longest listed extension is taken."""
    assert bar_texts(parse(text)) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1", [4]),
        ("(1 5)", [2, 2]),
        ("(1 4 5)", [Fraction(4, 3)] * 3),
        ("(1''' 5')", [3, 1]),
        ("(1'' 5'')", [2, 2]),
        ("(1' 4' 5' 1')", [1, 1, 1, 1]),
        ("1''''", [4]),
        ("meter: 6/8\n1", [6]),
        ("meter: 6/8\n(1 5)", [3, 3]),
        ("meter: 3/4\n(1'' 5')", [2, 1]),
        ("[2/4] (1 5)", [1, 1]),
        ("[6/8] (1'''' 5'')", [4, 2]),
        ("(1 0)", [2, 2]),
    ],
)
def test_beats(text: str, expected: list[Fraction]) -> None:
    """A bar is divided evenly unless ticks say otherwise, in the meter's own beats."""
    assert beats(text) == expected


@pytest.mark.parametrize("text", ["(1'''d 5'p)", "(1d''' 5p')", "( 1'''d  5'p )", "(1'd'' 5'p)"])
def test_articulation_before_or_after_ticks(text: str) -> None:
    """The articulation letter may stand before, among or after the ticks."""
    first, second = only_bar(text).events
    assert [first.beats, second.beats] == [3, 1]
    assert (first.articulation, second.articulation) == (Articulation.HOLD, Articulation.PUSH)


def test_directives_hold_as_written() -> None:
    """[2/4] is for one bar only, [up 2] from its bar on; either may come first."""
    chart = parse("1 [2/4] 1 1 [up 2] [3/4] 1 [3/4] [DOWN 3] 1 1")
    assert [str(bar.meter) for bar in chart.bars()] == ["4/4", "2/4", "4/4", "3/4", "3/4", "4/4"]
    assert [bar.key_change for bar in chart.bars()] == [0, 0, 0, 2, -3, 0]
    assert [place.key_shift for place in chart.placed_bars()] == [0, 0, 0, 2, -1, -1]


@pytest.mark.parametrize(
    ("text", "moves"),
    [
        ("key: C\n[key D] 1", [2]),
        ("key: C\n[key F#] 1", [6]),
        ("key: C\n[key G] 1", [-5]),
        ("key: C\n[key B] 1", [-1]),
        ("key: Bb\n1 [key C] 1\nTag:\n4 [key Bb] 1", [0, 2, 0, -2]),
        ("key: D\n[up 2] 1 [key F] 1 [KEY  e minor] 1", [2, 1, -1]),
        ("key: D\n[key D] 1", [0]),
        ("key: D\n[up2]1[down 11] [2/4] 1", [2, -11]),
    ],
)
def test_a_named_key_is_reached_the_nearest_way(text: str, moves: list[int]) -> None:
    """[key D] moves the key from the one that holds there, 5 half steps down to 6 up."""
    assert [bar.key_change for bar in parse(text).bars()] == moves


def test_phrases_end_at_dots_and_line_ends() -> None:
    """A dot or a line end ends a phrase; blank lines and a dot at the line end change nothing."""
    chart = parse("1 1 . 4 4 .\n\n5 5.1\n")
    (section,) = chart.sections
    assert [len(phrase.bars) for phrase in section.phrases] == [2, 2, 2, 1]


def test_bars_before_any_label_have_no_section_name() -> None:
    """Bars before the first label are a first section without a name."""
    assert [section.name for section in parse("1 4\nTag:\n5 1").sections] == ["", "Tag"]


@pytest.mark.parametrize(
    "text",
    [
        "4♭7 ♯4o",
        "4b7\t#4o",
        "\ufeff4 b7 #4o\r\n",
        "  4 b7\u00a0#4°",
        "4\u2003b7 #4o",
    ],
)
def test_signs_and_spaces_of_other_keyboards(text: str) -> None:
    """Typographic accidentals, tabs, odd spaces, BOM and CRLF are read as the plain ones."""
    assert bar_texts(parse(text)) == ["4", "b7", "#4o"]


@pytest.mark.parametrize("tick", ["'", "’", "′", "‘", "´", "`"])
@pytest.mark.parametrize("minus", ["-", "–", "−", "—"])
def test_ticks_and_minus_of_other_keyboards(tick: str, minus: str) -> None:
    """Every apostrophe a tablet may type is a tick, every dash a minor."""
    bar = only_bar(f"(6{minus}{tick * 3} 5{tick})")
    assert [event.beats for event in bar.events] == [3, 1]
    assert bar.events[0].chord == Chord(6, 0, "-")


@pytest.mark.parametrize("quote", ['"', "”", "″", "“"])
def test_a_double_quote_is_two_ticks(quote: str) -> None:
    """Two ticks that a keyboard joined to one quotation mark are still two."""
    assert beats(f"(1{quote}' 5')") == [3, 1]


def test_case_and_order_of_header_lines() -> None:
    """Header words may be in any case and order, with odd spacing."""
    chart = parse("KEY :  eb minor\nFeel: Train  Beat\n title:  Mill   Race \nTempo:92.5\n1")
    assert (str(chart.key), chart.feel) == ("Eb minor", Feel.TRAIN_BEAT)
    assert (chart.title, chart.tempo) == ("Mill Race", 92.5)


def test_what_the_text_does_not_say_comes_from_the_header() -> None:
    """Missing header lines are taken from the header argument, written ones win."""
    given = Header("Ferry Song", Meter(3, 4), 80.0, Feel.STRAIGHT, Key("G"))
    chart = parse("tempo: 90\n1", given)
    assert (chart.title, chart.meter, chart.key) == ("Ferry Song", Meter(3, 4), Key("G"))
    assert (chart.tempo, chart.feel) == (90, Feel.STRAIGHT)


@pytest.mark.parametrize(
    ("text", "given", "expected"),
    [
        ("1", None, Feel.STRAIGHT),
        ("meter: 3/4\n1", None, Feel.WALTZ),
        ("meter: 6/8\n1", None, Feel.SIX_EIGHT),
        ("meter: 12/8\n1", None, Feel.TWELVE_EIGHT),
        ("1", Feel.SHUFFLE, Feel.SHUFFLE),
        ("meter: 3/4\n1", Feel.SHUFFLE, Feel.WALTZ),
        ("meter: 3/4\nfeel: straight\n1", Feel.SHUFFLE, Feel.STRAIGHT),
    ],
)
def test_a_feel_that_is_not_written(text: str, given: Feel | None, expected: Feel) -> None:
    """An unwritten feel is the header's own where it goes with the meter, else the usual one."""
    assert parse(text, Header(feel=given)).feel is expected


@pytest.mark.parametrize("name", ["b7", "x", "Verse 2 (soft)", "Brücke", "サビ", "Tag (1 2)", "d"])
def test_odd_section_names(name: str) -> None:
    """Any line that starts with a letter and ends with its only colon is a section name."""
    assert parse(f"{name}:\n1").sections[0].name == name


def test_every_chord_carries_its_parts() -> None:
    """Accidental, quality, extension and bass each reach the chord."""
    chord = only_bar("b7-^7/#4").events[0].chord
    assert chord == Chord(7, -1, "-", "7", Degree(4, 1))


def test_the_source_stands_before_each_problem() -> None:
    """Problems of a file begin with the file's name."""
    with pytest.raises(NotationError) as caught:
        parse("8\n9", source="ferry.txt")
    lines = str(caught.value).split("\n")
    assert [line.split(":")[0] for line in lines] == ["ferry.txt", "ferry.txt"]
    assert lines[1].startswith("ferry.txt: line 2, column 1: found 9")
