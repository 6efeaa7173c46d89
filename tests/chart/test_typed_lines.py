"""What musicians habitually type, and the notation that it stands for."""

from __future__ import annotations

import pytest

from trainer.chart import Chart, Header, Key, ParseResult, parse, parse_tolerant
from trainer.chart.format import format_bar

# Typed line (after a first line with the bar 4), and the bars in the notation; . is a phrase end.
LINES = [
    # Chords without the ^ and with the quality spelt out.
    ("6m 6min 6mi 6MIN 6-", "6- 6- 6- 6- 6-"),
    ("6M 6maj 6", "6 6 6"),
    ("2m7 2min7 2-7 2-^7", "2-^7 2-^7 2-^7 2-^7"),
    ("1maj7 1M7 1ma7 1△7 1△ 1Δ 1Maj7", "1^maj7 1^maj7 1^maj7 1^maj7 1^maj7 1^maj7 1^maj7"),
    ("5sus 5sus4 5sus2 57sus4 57sus 59sus", "5^sus4 5^sus4 5^sus2 5^7sus4 5^7sus4 5^9sus4"),
    ("4add9 1(add9) 2m(maj7) 4² 1no3", "4^add9 1^add9 2-^maj7 4^add9 1^5"),
    ("7dim 7dim7 7o7 3aug 7hdim 7m7b5 7-7b5 7hdim7", "7o 7o^7 7o^7 3+ 7ø 7ø 7ø 7ø"),
    ("<6m7>4", "6-^7d 4"),
    ("57b9 57#9 59 2m9", "5^7b9 5^7#9 5^9 2-^9"),
    ("46", "4 6"),
    ("6m7/5 1maj7/3 5sus/1 b7maj7", "6-^7/5 1^maj7/3 5^sus4/1 b7^maj7"),
    ("6m2m5", "6- 2- 5"),
    ("2-5 6-4 2-6", "2- 5 6- 4 2- 6"),
    ("2m7-5-1", "2-^7 5 1"),
    # Signs in any order, letters in any case, other keyboards.
    ("1d^maj7 1d/3 5p^7/4", "1^maj7d 1/3d 5^7/4p"),
    ("<1> ◇1 ⬦1 1◇ <5/7>", "1d 1d 1d 1d 5/7d"),
    ("1D 4P 5C", "1d 4p 5c"),
    ("１ ♭７ ６− 5⁷ 1ᵐᵃʲ⁷ 6⁻⁷ 2m⁷", "1 b7 6- 5^7 1^maj7 6-^7 2-^7"),
    ("N.C. NC n.c. nc 0", "0 0 0 0 0"),
    # Bar lines, commas, the bar again.
    ("| 1 | 4 | 5 | 1 |", "1 4 5 1"),
    ("| 1 5 | 4 | 1 | 5 6m |", "(1 5) 4 1 (5 6-)"),
    ("1 5 | 4 5", "(1 5) (4 5)"),
    ("1 | 4 || 5 | 1 ||", "1 4 . 5 1"),
    ("1 4 || 5 1", "1 4 . 5 1"),
    ("| (1 5) | 4 | [2/4] 5 |", "(1 5) 4 [2/4] 5"),
    ("| 1'' 5'' | 4 |", "(1 5) 4"),
    ("1, 4, 5, 1", "1 4 5 1"),
    ("1 4 5 1, 4 4 1 1,", "1 4 5 1 . 4 4 1 1"),
    ("(1, 5/7) 6m", "(1 5/7) 6-"),
    ("1 % 5 -", "1 1 5 5"),
    ("1 - - 5", "1 1 1 5"),
    ("1 x4", "1 1 1 1"),
    ("1->4->5 → 1 > 6m", "1 4 5 1 6-"),
    ("[1 5] {4 5/7} 1", "(1 5) (4 5/7) 1"),
    ("1·4·5 • 1", "1 4 5 1"),
    ("1, 1, 4, 4 / 1, 1, 5, 5", "1 1 4 4 . 1 1 5 5"),
    ("6m . . . 4 . . .", "6- 4"),
    ("6m... 4... 1...", "6- 4 1"),
    ("1 1 5 5...", "1 1 5 5"),
    # Words with spaces.
    ("flat 7 4 sharp 4 dim b 7 maj", "b7 4 #4o b7"),
    ("6 minor 4 major 2min 6 MIN", "6- 4 2- 6-"),
    ("5 over 7 1 over the 3 6 min over flat 7", "5/7 1/3 6-/b7"),
    ("5 7th 1 5 sus 1 7 half dim", "5^7 1 5^sus4 1 7ø"),
    ("% (1 5) %", "4 (1 5) (1 5)"),
    ("[2/4] 5 % 1", "[2/4] 5 5 1"),
    ("1 4 5 1 x2", "1 4 5 1 . 1 4 5 1"),
    ("1 % (2x)", "1 1 . 1 1"),
    # Beats.
    ("1''' 5' 4", "(1''' 5') 4"),
    ("1'1'5'5' 4", "(1 1 5 5) 4"),
    ("1 / / / 4 / 5 /", "1 (4 5)"),
    ("1 / / 5 4///", "(1''' 5') 4"),
    ("| 1 / / / | 4 - 5 - |", "1 (4 5)"),
    ("[3/4] 1 / / 5 / / /", "[3/4] 1 5"),
    ("6/8 1 12/8 4 5", "[6/8] 1 [12/8] 4 5"),
    ("12/45 4/41", "1 (2/4) 5 4 1"),
    ("5/4 1/4 7/4 1 2/4", "5/4 1/4 7/4 1 (2/4)"),
    # Roman numerals.
    ("I V vi IV", "1 5 6- 4"),
    ("ii7 V7 Imaj7 vii° viiø7 iiim7", "2-^7 5^7 1^maj7 7o 7ø 3-^7"),
    ("| bVII | I/III | Vsus4 | % . IVd", "b7 1/3 5^sus4 5^sus4 . 4d"),
    ("♭VII ii/5 V+ I^6", "b7 2-/5 5+ 1^6"),
    ("I-V7-vi–IV", "1 5^7 6- 4"),
]  # fmt: skip


def bars_of(result: ParseResult) -> str:
    """The bars of a result as notation, a dot after each phrase but the last."""
    assert result.chart is not None
    chart = result.chart
    return " . ".join(
        " ".join(format_bar(bar, chart) for bar in phrase.bars)
        for section in chart.sections
        for phrase in section.phrases
    )


@pytest.mark.parametrize(("typed", "notation"), LINES)
def test_a_habit_is_read(typed: str, notation: str) -> None:
    """The typed line is the line of notation, with nothing wrong and nothing asked."""
    result = parse_tolerant(f"4\n{typed}")
    assert result.problems == ()
    assert result.questions == ()
    assert bars_of(result) == f"4 . {notation}"


@pytest.mark.parametrize(("typed", "notation"), LINES)
def test_bars_lie_where_they_were_typed(typed: str, notation: str) -> None:
    """Bars follow each other in the line, none outside it, each within what was typed."""
    spans = parse_tolerant(f"4\n{typed}").bar_spans[1:]
    assert all(span.line == 2 and 1 <= span.column < span.end_column for span in spans)
    assert spans[-1].end_column <= len(typed) + 1
    assert list(spans) == sorted(spans)


def test_the_place_of_a_bar_is_its_own_text() -> None:
    """A bar's span is its chords as they were typed, or the sign that repeats the bar before."""
    text = "| 6m7/5 | % | 5 1/3 | １ |"
    spans = parse_tolerant(text).bar_spans
    typed = [text[span.column - 1 : span.end_column - 1] for span in spans]
    assert typed == ["6m7/5", "%", "5 1/3", "１"]


@pytest.mark.parametrize(
    ("text", "sections"),
    [
        ("[Chorus]\n1 4", ["Chorus"]),
        ("[Verse 1] 1 4\n[Tag]\n5 1", ["Verse 1", "Tag"]),
        ("Chorus\n1 4", ["Chorus"]),
        ("Verse 2\n1 4\nTA\n5", ["Verse 2", "TA"]),
        ("V1: 1 4 5 1\nch: 4 5", ["V1", "ch"]),
        ("Pre-Chorus\n1\nBridge (soft)\n4", ["Pre-Chorus", "Bridge (soft)"]),
        ("Intro：１ ４\nV1\n4", ["Intro", "V1"]),
        ("1 4\nFerry: 5 1", ["", "Ferry"]),
    ],
)
def test_labels_without_a_line_or_a_colon_of_their_own(text: str, sections: list[str]) -> None:
    """A known kind of section may be named in square brackets, without a colon, before its bars."""
    chart = parse(text)
    assert [section.name for section in chart.sections] == sections


@pytest.mark.parametrize("text", ["b7", "NC 1", "vi IV I V", "V7 I", "B7", "[2/4] 1", "0", "5"])
def test_chords_are_no_labels(text: str) -> None:
    """A line of chords in any writing starts no section."""
    result = parse_tolerant(f"Verse:\n1\n{text}")
    assert result.chart is not None
    assert [section.name for section in result.chart.sections] == ["Verse"]


IN_G = "G D/F# Em7 C . Am7b5 Bb F#dim Cmaj7/E\n[up 2] A [key D] D . G7sus4 (D A)"


def test_letter_names_are_counted_in_the_key_that_holds() -> None:
    """Letter names become numbers in the key, after each change of it in the new one."""
    meant = parse("key: G\n1 5/7 6-^7 4 . 2ø b3 7o 4^maj7/6\n[up 2] 1 [key D] 1 . 4^7sus4 (1 5)")
    assert parse(f"key: G\nchords: letters\n{IN_G}") == meant
    assert parse(f"key: G\n{IN_G}", letters=True) == meant
    assert parse(IN_G, Header(key=Key("G")), letters=True) == meant
    dashed = parse("key: G\nG-D7-Em7-C", letters=True)
    assert dashed.sections == parse("key: G\n1 5^7 6-^7 4").sections


def test_the_text_decides_on_letter_names() -> None:
    """`chords: numbers` in the text wins over the argument; a key must be known in any case."""
    for text in ("key: G\nchords: numbers\nG D", "G D", "chords: letters\nG D"):
        result = parse_tolerant(text, letters=True)
        assert len(result.problems) == 2, text
        assert all("chords: letters" in each.expected for each in result.problems)
    wrong = parse_tolerant("chords: names\n1").problems
    assert [(each.found, each.expected) for each in wrong] == [
        ("chords 'names'", "letters or numbers")
    ]


@pytest.mark.parametrize(
    ("name", "key", "degree"),
    [
        ("F#", "C", "#4"), ("Gb", "C", "b5"), ("Bb", "F", "4"), ("Cb", "Gb", "4"),
        ("G", "E minor", "b3"), ("D#", "E", "7"), ("Eb", "E", "7"), ("A#", "Bb", "1"),
        ("B##", "C", "#1"), ("E#", "C", "4"), ("Fbb", "C", "b3"),
    ],
)  # fmt: skip
def test_a_note_is_the_degree_of_its_letter(name: str, key: str, degree: str) -> None:
    """A note is counted by its letter, and by its sound where its letter would need two signs."""
    chart = parse(f"key: {key}\n{name}m", letters=True)
    (event,) = chart.bars()[0].events
    assert str(event.chord) == f"{degree}-"


def only_bars(chart: Chart) -> list[bool]:
    """Whether each bar is open."""
    return [bar.is_open for bar in chart.bars()]


def test_a_question_mark_leaves_a_bar_open() -> None:
    """A ? alone is a bar that is not known yet: a gap, no problem, kept in the canonical text."""
    result = parse_tolerant("1 ? [2/4] ? 5 . ?? %")
    assert result.problems == ()
    assert result.chart is not None
    assert result.gaps == {2, 3, 5, 6, 7}
    assert result.invalid_bars == frozenset()
    assert only_bars(result.chart) == [number in result.gaps for number in range(1, 8)]
    assert bars_of(result) == "1 ? [2/4] ? 5 . ? ? ?"


def test_what_is_wrong_in_a_repeated_line_is_reported_once() -> None:
    """The copies of a line leave out what could not be read, and their bars lie after the line."""
    result = parse_tolerant("1 4 5 |x2|| x2")
    assert [problem.found for problem in result.problems] == ["x"]
    assert list(result.bar_spans) == sorted(result.bar_spans)
