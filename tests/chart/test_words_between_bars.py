"""Words among the bars: key moves, the way through the form, and articulations written out."""

from __future__ import annotations

import pytest

from trainer.chart import ParseResult, parse_tolerant
from trainer.chart.format import format_bar
from trainer.chart.typed.remarks import STRAIGHT_DOWN

KEY_MOVES = [
    ("Key up a step", "[up 2]"), ("up a whole step", "[up 2]"), ("up a half step", "[up 1]"),
    ("mod up 1/2", "[up 1]"), ("modulate down a minor third", "[down 3]"),
    ("up 3 half steps", "[up 3]"), ("up 2 steps", "[up 4]"), ("key of D", "[key D]"),
    ("modulate to E", "[key E]"), ("Key change: Eb", "[key Eb]"), ("[Key up a step]", "[up 2]"),
    ("(up a step)", "[up 2]"), ("new key F# minor", "[key F# minor]"),
]  # fmt: skip
WAYS_THROUGH = [
    "D.S. al coda", "DC al fine", "repeat", "repeat verse 1", "2nd time", "2nd time to coda",
    "same as V1", "back to the top", "go to bridge", "1st ending:",
    "same", "twice",
]  # fmt: skip
ARTICULATIONS = [
    ("1 stop", "1c"), ("1 (hold)", "1d"), ("4 5 1 hold", "4 5 1d"), ("4 5 (push) 1", "4 5p 1"),
    ("4 stop 5", "4c 5"), ("1 4 5 push", "1 4 5p"), ("| 1 | 4 push | 5 |", "1 4p 5"),
    ("(1 5 hold) 4", "(1 5d) 4"), ("14 stop", "1 4c"), ("I V vi stop", "1 5 6-c"),
]  # fmt: skip
SLASHES = [
    ("1 1 4 1 / 1 1 5 5 / 4 4 1 1", "1 1 4 1 . 1 1 5 5 . 4 4 1 1"),
    ("4 4 1 6m / 2m 5 1 1 /", "4 4 1 6- . 2- 5 1 1"),
    ("1 4 / 6m 5 1", "1 4 . 6- 5 1"),
]


def read(result: ParseResult) -> str:
    """The bars in the notation, with a dot between phrases."""
    assert result.chart is not None
    chart = result.chart
    phrases = [phrase for section in chart.sections for phrase in section.phrases]
    return " . ".join(" ".join(format_bar(bar, chart) for bar in each.bars) for each in phrases)


@pytest.mark.parametrize(("words", "sign"), KEY_MOVES)
def test_a_key_move_in_words_names_its_sign(words: str, sign: str) -> None:
    """One problem says what to write before the first bar in the new key."""
    result = parse_tolerant(f"1 4\n{words}\n4 5")
    (problem,) = result.problems
    assert (problem.line, problem.expected.partition(" before")[0]) == (2, sign)
    assert (read(result), result.invalid_bars) == ("1 4 . 4 5", frozenset())


def test_a_key_move_in_a_name_is_named() -> None:
    """A section that says its new key is opened, and the sign for the key is asked for."""
    result = parse_tolerant("1 4\n[Chorus in D]\n4 5\nVerse 3 up a step\n1")
    assert [problem.expected.partition(" before")[0] for problem in result.problems] == [
        "[key D]", "[up 2]",
    ]  # fmt: skip
    assert result.chart is not None
    assert [section.name for section in result.chart.sections] == ["", "Chorus in D", "Verse 3"]


@pytest.mark.parametrize(
    "typed", ["[up 2]\n1 4", "[up 2]\nChorus:\n1 4", "Chorus [up 2]\n1 4", "[up 2] Chorus:\n1 4",
              "Chorus: [up 2]\n1 4"]
)  # fmt: skip
def test_a_key_move_alone_on_its_line_is_for_the_next_bar(typed: str) -> None:
    """A change of key on a line of its own, or beside a name, moves the key at the next bar."""
    result = parse_tolerant(f"5\n{typed}")
    assert (result.problems, result.questions) == ((), ())
    assert read(result) == "5 . [up 2] 1 4"


def test_letter_names_after_a_key_move_on_its_own_line_are_counted_in_the_new_key() -> None:
    """The key that a line alone moves to holds for the letter names of the next line."""
    assert read(parse_tolerant("key: G\nchords: letters\nG\n[up 2]\nA D")) == "1 . [up 2] 1 4"


def test_signs_of_the_notation_are_no_remarks() -> None:
    """The sign for a key move is read, with a named key or a number of half steps."""
    assert parse_tolerant("[up 2] 1 [key D] 4 [down 3] 5").problems == ()


@pytest.mark.parametrize("words", WAYS_THROUGH)
@pytest.mark.parametrize("bars", ["", "1 4 5 1 "])
def test_the_way_through_the_form_is_one_problem(words: str, bars: str) -> None:
    """Coda, repeats and endings are one problem for the line, and the bars before them are read."""
    result = parse_tolerant(f"1 4\n{bars}{words}")
    (problem,) = result.problems
    assert (problem.line, problem.column, problem.expected) == (2, len(bars) + 1, STRAIGHT_DOWN)
    assert read(result) == ("1 4 . 1 4 5 1" if bars else "1 4")


def test_bars_after_an_ending_are_read() -> None:
    """The bars of a first ending stay bars."""
    assert read(parse_tolerant("1st ending: 1 5")) == "1 5"


@pytest.mark.parametrize(("typed", "bars"), ARTICULATIONS)
def test_an_articulation_may_be_written_out(typed: str, bars: str) -> None:
    """Hold, push and stop after a chord are its articulation, and the bar reaches over them."""
    result = parse_tolerant(typed)
    assert (result.problems, result.questions) == ((), ())
    assert read(result) == bars


def test_a_push_between_two_chords_is_named() -> None:
    """A push that may be meant for the chord before or after it is not guessed."""
    result = parse_tolerant("4 push 5 1")
    (problem,) = result.problems
    assert problem.expected == "p right after the chord that is pushed, as in 4p"
    assert read(result) == "4 5 1"


@pytest.mark.parametrize(("typed", "bars"), SLASHES)
def test_a_slash_between_groups_ends_a_phrase(typed: str, bars: str) -> None:
    """Single slashes between groups of two or more chords stand for dots."""
    result = parse_tolerant(typed)
    assert (result.problems, result.questions) == ((), ())
    assert read(result) == bars


@pytest.mark.parametrize("typed", ["1 5 / 7 6m 4 / 5 1", "1 4 1 5 / 7 6m 4 4"])
def test_a_slash_that_may_stand_before_a_bass_is_asked_about(typed: str) -> None:
    """Where the number after a slash may be a bass, each answer can be put in place of the line."""
    (question,) = parse_tolerant(typed).questions
    phrases, basses = (choice.text for choice in question.choices)
    assert " . 7 6- 4" in phrases
    assert "5/7 6- 4" in basses
    for text in (phrases, basses):
        again = parse_tolerant(text)
        assert (again.problems, again.questions) == ((), ())


def test_a_seventh_in_brackets_belongs_to_its_chord() -> None:
    """5(7) is a seventh chord and not two bars."""
    assert read(parse_tolerant("5(7) 1 2m(7)")) == "5^7 1 2-^7"


def test_a_letter_name_may_stand_in_a_diamond() -> None:
    """A letter name in a diamond is held."""
    assert read(parse_tolerant("key: G\nchords: letters\nG <C> ◇G")) == "1 4d 1d"


def test_cells_of_four_and_two_chords_are_asked_about() -> None:
    """A line whose cells hold four chords and two may be phrases as well as split bars."""
    (question,) = parse_tolerant("| 1 4 5 1 | 4 5 |").questions
    assert [choice.header for choice in question.choices] == [
        "bar lines: phrases", "bar lines: bars",
    ]  # fmt: skip


@pytest.mark.parametrize("sign", [" ", "(", "- ", "up ", "key ", "D S ", ", a", "- a "])
def test_long_lines_are_read_in_time(sign: str) -> None:
    """No pattern for words takes more than linear time or so on a long line."""
    parse_tolerant("Verse " + sign * (19_000 // len(sign)) + "!")


@pytest.mark.parametrize("slip", ["!", "x", "stop", "hold it"])
def test_a_slip_after_many_bars_is_read_in_time(slip: str) -> None:
    """One slip in a line of many plain bars takes no longer than the bars themselves."""
    result = parse_tolerant("1 4 5 1 " * 20 + slip)
    assert result.chart is not None
    assert len(result.chart.bars()) >= 80
