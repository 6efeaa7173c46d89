"""What a person who typed something wrong is told, and where."""

from __future__ import annotations

import pytest

from trainer.chart import parse, parse_tolerant
from trainer.chart.model import MOST_BARS, MOST_CHARACTERS
from trainer.errors import NotationError

# text, line, column, words in what was found, words in what was expected
SLIPS = [
    ("1 8", 1, 3, "8", "1–7"),
    ("1 9", 1, 3, "9", "1–7"),
    ("5/8", 1, 1, "5/8", "bass number 1–7"),
    ("5/G", 1, 1, "5/G", "bass number 1–7"),
    ("(1 5')", 1, 1, "ticks on some chords of 1 5'", "every chord of the bar, or on none"),
    ("(1'' 5')", 1, 1, "3 beats in 1'' 5'", "4 beats in 4/4"),
    ("[2/4] (1'' 5')", 1, 1, "3 beats", "2 beats in 2/4"),
    ("1'", 1, 1, "1 beat in 1'", "4 beats"),
    ("5^maj 1", 1, 1, "5^maj", "one of 5, 6, 69, 7, maj7"),
    ("1-^sus4", 1, 1, "1-^sus4", "one of 6, 7, maj7, 9, add9, 11"),
    ("7o^9", 1, 1, "7o^9", "one of 7 after ^ on a diminished chord"),
    ("5^7^9", 1, 1, "5^7^9", "one extension"),
    ("1^ 4", 1, 1, "1^", "right after ^, as in 5^7; for a choke 1c"),
    ("||: 1 4", 1, 1, "repeat sign ||:", "written out"),
    ("1 4:||", 1, 4, "repeat sign :||", "written out"),
    ("% 1", 1, 1, "%", "a bar before it"),
    ("- 1", 1, 1, "-", "a bar before it"),
    ("1 (5 %) 4", 1, 6, "%", "a bar before it"),
    ("1 / /", 1, 3, "/", "slashes that count the beats of whole bars, as in 1 / / /"),
    ("5 / 7", 1, 3, "/", "slashes that count the beats of whole bars"),
    ("1 | | 5", 1, 3, "| |", "% for the bar before again, ? for one not known yet"),
    ("1 (4 ?) 5", 1, 6, "?", "alone in its bar"),
    ("4/4 1 5", 1, 1, "4/4", "in square brackets, as in [2/4] 5; it lasts one bar"),
    ("1 V 5", 1, 3, "Roman numeral V", "numbers or Roman numerals, not both"),
    ("1 4 x 5", 1, 5, "x", "0 for a bar with no chord"),
    ("1 4 2 x", 1, 7, "x", "0 for a bar with no chord"),
    ("1 x", 1, 3, "x", "0 for a bar with no chord"),
    ("1 F#m7", 1, 3, "letter name F#m7", "lines that say key: G and chords: letters"),
    ("G", 1, 1, "letter name G", "a number"),
    ("B7 1", 1, 1, "letter name B7", "flat is a small b"),
    ("1q", 1, 1, "1q", "after the number"),
    ("6mq", 1, 1, "6mq", "after the number"),
    ("1-sus4", 1, 1, "1-sus4", "one of 6, 7, maj7, 9, add9, 11"),
    ("1-o", 1, 1, "1-o", "one of - o + ø"),
    ("bb7", 1, 1, "bb7", "one flat b or sharp #"),
    ("b (1 5)", 1, 1, "b", "after the flat or sharp"),
    ("b0", 1, 1, "b0", "0 alone"),
    ("0-", 1, 1, "0-", "0 alone"),
    ("0d", 1, 1, "0 with d", "no hold, push or choke"),
    ("1 ''", 1, 3, "ticks", "right after its chord"),
    ("1 d", 1, 3, "d", "right after its chord"),
    ("5 /7", 1, 3, "/7", "right after its chord"),
    ("1)", 1, 2, ") without (", "pairs"),
    ("1 (5", 1, 3, "( without )", "a ) after the last chord"),
    ("1 (5 . 4", 1, 3, "( without )", "a ) after the last chord"),
    ("1 (4 [2/4] 5", 1, 3, "( without )", "a ) after the last chord"),
    ("1 (4 (2 5)", 1, 3, "( without )", "a ) after the last chord"),
    ("1 ( 4", 1, 3, "( without )", "a ) after the last chord"),
    ("1 () 4", 1, 3, "()", "chords between ( and )"),
    ("1 (", 1, 3, "( without )", "a ) after the last chord"),
    ("1 [5] 4", 1, 3, "[5]", "round brackets around the chords of one bar, as in (1 5)"),
    ("1 [x] 4", 1, 3, "[x]", "[2/4] for one bar's own meter, [up 2], [down 3] or [key D]"),
    ("1 [2/4 5", 1, 3, "[2/4 without ]", "[2/4]"),
    ("1] 4", 1, 2, "] without [", "pairs, as in [2/4]"),
    ("[key H] 1", 1, 1, "[key H]", "a key such as D, Bb, F# or E minor"),
    ("1_5 4", 1, 1, "1_5", "round brackets around the chords of one bar: (1 5)"),
    ("1'''_5' 4", 1, 1, "1'''_5'", "(1''' 5')"),
    ("4 1 _ 5/76-", 1, 3, "1 _ 5/7", "(1 5/7)"),
    ("1_", 1, 1, "1_", "round brackets around the chords of one bar: (1)"),
    ("_ 1", 1, 1, "_", "round brackets around the chords of one bar, as in (1 5)"),
    ("(key +2) 1", 1, 1, "(key +2)", "[up 2] in square brackets"),
    ("(key -3) 1", 1, 1, "(key -3)", "[down 3] in square brackets"),
    ("(key D) 1", 1, 1, "(key D)", "[key D] in square brackets"),
    ("(key", 1, 1, "(key", "[up 2], [down 3] or [key D]"),
    ("(6/8) 1", 1, 1, "(6/8)", "[6/8] in square brackets for one bar's own meter"),
    ("7h 1", 1, 1, "7h", "ø or hdim as in 7ø"),
    ("7h^7/1", 1, 1, "7h^7", "ø or hdim as in 7ø"),
    ("1s 4", 1, 1, "1s", "c for a choke: 1c"),
    ("5^sus4/7s' 4", 1, 1, "5^sus4/7s'", "c for a choke: 5^sus4/7c'"),
    ("1 . . 4", 1, 5, ". with no bar before it", "phrase"),
    ("1 .. 4", 1, 4, ". with no bar before it", "phrase"),
    (". 1", 1, 1, ". with no bar before it", "phrase"),
    ("1 [2/4]", 1, 3, "[2/4] with no bar after it", "same line"),
    ("1 [2/4] . 4", 1, 3, "[2/4] with no bar after it", "same line"),
    ("[2/4] [3/4] 1", 1, 7, "a second meter", "one meter"),
    ("[up 2] [up 1] 1", 1, 8, "a second change of key", "one change of key"),
    ("[up 12] 1", 1, 1, "[up 12]", "1 to 11"),
    ("[up 0] 1", 1, 1, "[up 0]", "1 to 11"),
    ("[5/5] 1", 1, 1, "5/5", "2, 4, 8 or 16"),
    ("(1 2 3 4 5 6 7 1 2)", 1, 1, "9 chords in one bar", "at most 8 in 4/4"),
    ("feel: rock\n1", 1, 7, "feel 'rock'", "straight, shuffle, two-beat, train beat"),
    ("meter: 3/4\nfeel: shuffle\n1", 2, 7, "feel shuffle in 3/4", "straight, waltz"),
    ("feel: shuffle\nmeter: 3/4\n1", 1, 7, "feel shuffle in 3/4", "straight, waltz"),
    ("tempo: fast\n1", 1, 8, "tempo 'fast'", "20 to 400"),
    ("tempo: 500\n1", 1, 8, "tempo '500'", "20 to 400"),
    ("tempo: nan\n1", 1, 8, "tempo 'nan'", "20 to 400"),
    ("tempo: ٩٢\n1", 1, 8, "tempo", "20 to 400"),
    ("meter: C\n1", 1, 8, "meter 'C'", "4/4, 3/4 or 6/8"),
    ("meter: 4/5\n1", 1, 8, "4/5", "2, 4, 8 or 16"),
    ("meter:\n1", 1, 1, "meter: with nothing after it", "4/4"),
    ("key: H\n1", 1, 6, "key 'H'", "D, Bb, F# or E minor"),
    ("key: C\nkey: D\n1", 2, 1, "a second key:", "only once"),
    ("1\nkey: D", 2, 1, "key: here", "to move the key write [up 2] or [key D] before a bar"),
    ("Tag:\nmeter: 3/4\n1", 2, 1, "meter: here", "write [2/4] before it"),
    (f"title: {'a' * 121}\n1", 1, 8, "a title of 121 characters", "at most 120"),
    ("title: a\x07b\n1", 1, 8, "control characters", "plain text"),
    ("Verse:\nTag:\n1", 1, 1, "Verse: with no bars", "under a section name"),
    ("1\nTag:", 2, 1, "Tag: with no bars", "under a section name"),
    ("1\n  Tag", 2, 3, "Tag: with no bars", "under a section name"),
    ("1\n[up 2]", 2, 1, "[up 2] with no bar after it", "a bar after it"),
    ("1\n[3/4]\n4", 2, 1, "[3/4] with no bar after it", "same line"),
    ("[up 2]\n[key D] 1", 2, 1, "a second change of key", "one change of key"),
    ("1\nDrums out", 2, 1, "Drums out", "with a colon after it"),
    ("strum: 2\n1", 1, 1, "strum: 2", "title, meter, tempo, feel, key"),
    ("1st verse:\n1", 1, 1, "section name 1st verse", "a letter first"),
    (":\n1", 1, 1, ": with no name", "a section name"),
    (f"{'a' * 41}:\n1", 1, 1, "section name", "at most 40 characters"),
    ("", 1, 1, "no bars", "at least one bar"),
    ("key: D\n", 1, 1, "no bars", "at least one bar"),
]


@pytest.mark.parametrize(("text", "line", "column", "found", "expected"), SLIPS)
def test_a_slip_is_named(text: str, line: int, column: int, found: str, expected: str) -> None:
    """A slip gives one problem: where it stands, what was found, what was expected."""
    with pytest.raises(NotationError) as caught:
        parse(text)
    (problem,) = caught.value.problems
    assert (problem.line, problem.column) == (line, column)
    assert found in problem.found
    assert expected in problem.expected


def test_all_problems_come_at_once() -> None:
    """Every problem of a text is listed, in order of place."""
    with pytest.raises(NotationError) as caught:
        parse("tempo: fast\nVerse:\n1 8 5/9\nkey: D\n(1' 5) 6q\nTag:")
    places = [(problem.line, problem.column) for problem in caught.value.problems]
    assert places == [(1, 8), (3, 3), (3, 5), (4, 1), (5, 1), (5, 8), (6, 1)]


def test_columns_count_the_characters_as_typed() -> None:
    """A problem's column counts characters of the typed line, odd signs among them."""
    (problem,) = parse_tolerant("\t♭7 (6−’’’ 5’) 8").problems
    assert (problem.line, problem.column) == (1, 16)


def test_too_long_a_text_is_refused_at_once() -> None:
    """A text over the limit is refused with the limit, unread."""
    result = parse_tolerant("1 " * MOST_CHARACTERS)
    assert result.chart is None
    (problem,) = result.problems
    assert problem.found == f"a text of {2 * MOST_CHARACTERS} characters"
    assert str(MOST_CHARACTERS) in problem.expected


@pytest.mark.parametrize("text", ["1" * (MOST_BARS + 1), "1\n" * (MOST_BARS + 5), "%" * 9_999])
def test_too_many_bars_are_refused(text: str) -> None:
    """Bars over the limit are refused with the limit; a result keeps those before."""
    result = parse_tolerant(text)
    assert result.chart is not None
    assert len(result.chart.bars()) == MOST_BARS
    assert [p.expected for p in result.problems if "bars" in p.found] == [f"at most {MOST_BARS}"]


def test_as_many_bars_as_allowed() -> None:
    """A text of exactly the most bars is a chart."""
    assert len(parse("1" * MOST_BARS).bars()) == MOST_BARS


def test_long_words_are_cut_in_messages() -> None:
    """What was found is quoted short, however long it is."""
    for text in ("z" * 5_000, "1" + "'" * 5_000, "key: " + "H" * 5_000, "(" + "4" * 5_000 + ")"):
        for problem in parse_tolerant(text).problems:
            assert len(problem.found) < 80
