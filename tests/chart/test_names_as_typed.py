"""Section names and header lines without a colon, as leaders type them (common practice)."""

from __future__ import annotations

import pytest

from trainer.chart import Header, Key, Meter, ParseResult, parse, parse_tolerant
from trainer.chart.format import format_bar, format_chart

BARS = "\n1 4 5 1"
NAMES = [
    ("V2", "V2"), ("V5", "V5"), ("I2", "I2"), ("B2", "B2"), ("C2", "C2"), ("v2", "v2"),
    ("V 1", "V 1"), ("Ch 2", "Ch 2"), ("C", "C"), ("B", "B"), ("A", "A"),
    ("Verse 1 –", "Verse 1"), ("(Chorus)", "Chorus"), ("Chorus)", "Chorus"),
    ("Verse 3.", "Verse 3"),
    ("**Bridge**", "Bridge"),
    ("-- Solo --", "Solo"), ("# Verse 4", "Verse 4"), ("2nd verse", "Verse 2"),
    ("Intro (guitar only)", "Intro (guitar only)"), ("Intro 4 bars", "Intro 4 bars"),
    ("Instrumental (8 bars)", "Instrumental (8 bars)"),
    ("Verse 6 - band in", "Verse 6 - band in"), ("Verse 2, drums out", "Verse 2, drums out"),
    ("chorsu", "Chorus"), ("vesre 2", "Verse 2"), ("prechours", "Prechorus"),
]  # fmt: skip
ON_ONE_LINE = [
    ("Tag 2m 5 1", "Tag", "2- 5 1"),
    ("V1 1145", "V1", "1 1 4 5"),
    ("Verse 1 1145 1", "Verse 1", "1 1 4 5 1"),
    ("Intro 1541", "Intro", "1 5 4 1"),
    ("Verse 1 (1 5) 4", "Verse 1", "(1 5) 4"),
    ("V1 - 1 4 5 1", "V1", "1 4 5 1"),
    ("Ch) 4 5 6m", "Ch", "4 5 6-"),
    ("Verse 2. 1 4 5 1", "Verse 2", "1 4 5 1"),
    ("intro = 1 4", "intro", "1 4"),
    ("Intro - 4 bars - 1 4 1 5", "Intro", "1 4 1 5"),
]
# What is typed, and the texts of the two answers.
ASKED = [
    ("V\n1 4", ["V:", "5"]),
    ("V7\n1 4", ["V7:", "5^7"]),
    ("i\n1 4", ["i:", "1-"]),
    ("B7\n1 4", ["B7:", "b7"]),
    ("Verse 1 4 5 1", ["Verse 1:", "Verse: 1"]),
    ("Ch 14\n1 4", ["Ch 14:", "Ch: 1 4"]),
    ("3/4\n1 4", ["(3/4)", "meter: 3/4"]),
]


def bars(result: ParseResult) -> str:
    """The bars of the result in the notation."""
    assert result.chart is not None
    return " ".join(format_bar(bar, result.chart) for bar in result.chart.bars())


@pytest.mark.parametrize(("typed", "name"), NAMES)
def test_a_name_alone_on_its_line_starts_a_section(typed: str, name: str) -> None:
    """A known name starts a section, whatever is drawn around it or noted after it."""
    chart = parse(f"Intro:{BARS}\n{typed}{BARS}")
    assert [section.name for section in chart.sections] == ["Intro", name]
    assert parse(format_chart(chart)) == chart


@pytest.mark.parametrize(("typed", "name", "read"), ON_ONE_LINE)
def test_bars_may_follow_a_name_on_its_line(typed: str, name: str, read: str) -> None:
    """Bars that cannot be part of a name need no colon before them."""
    result = parse_tolerant(typed)
    assert (result.problems, result.questions) == ((), ())
    assert result.chart is not None
    assert ([section.name for section in result.chart.sections], bars(result)) == ([name], read)


@pytest.mark.parametrize(("typed", "texts"), ASKED)
def test_a_name_that_may_be_a_bar_is_asked_about(typed: str, texts: list[str]) -> None:
    """Each answer can be put in place of the typed text, and leaves nothing to ask."""
    result = parse_tolerant(typed)
    assert result.problems == ()
    (question,) = result.questions
    assert [choice.text for choice in question.choices] == texts
    line = typed.partition("\n")[0]
    for choice in question.choices:
        answered = line[: question.column - 1] + choice.text + line[question.end_column - 1 :]
        rest = parse_tolerant(typed.replace(line, answered, 1))
        assert (rest.problems, rest.questions) == ((), ())


def test_letter_names_alone_on_a_line_are_asked_about_where_letters_are_read() -> None:
    """Where chords are letters, C2 on a line is a second chorus or a chord."""
    result = parse_tolerant("key: G\nchords: letters\nC2\nG C D G")
    assert [choice.text for choice in result.questions[0].choices] == ["C2:", "4^add9"]


def test_small_signs_of_the_notation_are_no_names() -> None:
    """A flat two alone on its line stays a bar, and stray articulations stay slips."""
    assert bars(parse_tolerant("b2")) == "b2"
    assert parse_tolerant("1\nd").problems[0].found == "d"


def test_a_count_may_follow_a_name_in_square_brackets() -> None:
    """[Chorus] x2 asks as Chorus x2 does."""
    result = parse_tolerant("[Chorus] x2\n1 4")
    assert [choice.label for choice in result.questions[0].choices] == ["once", "2 times"]


@pytest.mark.parametrize(
    ("typed", "header"),
    [
        ("key G", Header(key=Key("G"))),
        ("in the key of Bb", Header(key=Key("B", -1))),
        ("Key of E minor", Header(key=Key("E", minor=True))),
        ("Key of D, 4/4, 118", Header(key=Key("D"), tempo=118)),
        ("4/4 92 bpm", Header(tempo=92)),
        ("tempo 84", Header(tempo=84)),
        ("in D", Header(key=Key("D"))),
        ("G, 84 bpm", Header(key=Key("G"), tempo=84)),
        ("Time: 3/4", Header(meter=Meter(3, 4))),
        ("BPM: 84", Header(tempo=84)),
    ],
)
def test_header_lines_need_no_colon(typed: str, header: Header) -> None:
    """Key, meter, tempo and feel may stand above the chart as people write them."""
    chart = parse(f"{typed}{BARS}")
    assert (chart.key, chart.tempo, chart.meter) == (header.key, header.tempo, header.meter)


@pytest.mark.parametrize("typed", ["Millrace Sunday", "“Millrace Sunday”"])
def test_a_title_needs_no_word(typed: str) -> None:
    """Words above a header line or a section's name are the title."""
    for below in (f"\nkey: G{BARS}", f"\nVerse{BARS}", f"\nKey of D\nVerse 1:{BARS}"):
        assert parse(typed + below).title == "Millrace Sunday"


@pytest.mark.parametrize("typed", ["push 4 5", "Send me 1 4 5", "diamond 1"])
def test_words_with_bars_among_them_are_no_title(typed: str) -> None:
    """A first line that seems to hold bars is named as a mistake."""
    result = parse_tolerant(f"{typed}\nVerse{BARS}")
    assert [problem.line for problem in result.problems] == [1]
    assert result.chart is not None
    assert result.chart.title == ""


def test_words_right_above_bars_are_asked_about() -> None:
    """A first line that may be the title or the section's name is drawn as the title; one in
    quotation marks can be nothing else."""
    result = parse_tolerant(f"Millrace Sunday{BARS}")
    assert result.problems == ()
    assert result.chart is not None
    assert result.chart.title == "Millrace Sunday"
    (question,) = result.questions
    assert [each.text for each in question.choices] == [
        "title: Millrace Sunday",
        "Millrace Sunday:",
    ]
    assert parse(f"“Millrace Sunday”{BARS}").title == "Millrace Sunday"


@pytest.mark.parametrize(
    ("typed", "key", "tempo"),
    [
        ("Millrace Sunday, key of D", "D", 100), ("Millrace Sunday - 92 bpm - key of Eb", "Eb", 92),
        ("Millrace Sunday (Bb, 92)", "Bb", 92), ("Millrace Sunday (G)", "G", 100),
        ("Millrace Sunday in E", "E", 100),
        ("Millrace Sunday (key of G, 4/4, 118)", "G", 118),
    ],
)  # fmt: skip
def test_key_and_tempo_may_follow_the_title(typed: str, key: str, tempo: float) -> None:
    """What stands after the title on its line is read as a header line is."""
    result = parse_tolerant(f"{typed}\nVerse{BARS}")
    assert result.problems == ()
    assert result.chart is not None
    assert (str(result.chart.key), result.chart.tempo) == (key, tempo)
    assert result.chart.title.startswith("Millrace Sunday")
