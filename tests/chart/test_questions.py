"""What can be read in two ways is asked about, and every answer is read as it says."""

from __future__ import annotations

import pytest

from tests.chart.answers import answered
from trainer.chart import Question, parse, parse_tolerant
from trainer.chart.format import format_bar
from trainer.errors import NotationError

# Typed text with what is asked about between « and », and the bars that each choice makes of it,
# the reading that is drawn first.
QUESTIONS = [
    ("1 «57» 1", ["1 5^7 1", "1 5 7 1"]),
    ("1«57»1", ["1 5^7 1", "1 5 7 1"]),
    ("«577»", ["5^7 7", "5 7 7"]),
    ("1«57777»1", ["1 5^7 7 7 7 1", "1 5 7 7 7 7 1"]),
    ("(1 «57»)", ["(1 5^7)", "(1 5 7)"]),
    ("1, «57», 4", ["1 5^7 4", "1 5 7 4"]),
    ("«57/4» 1", ["5^7/4 1", "5 7/4 1"]),
    ("«5d7»", ["5^7d", "5d 7"]),
    ("1«7o7»1", ["1 7o^7 1", "1 7o 7 1"]),
    ("5«7hdim7»1", ["5 7ø 1", "5 7ø 7 1"]),
    ("«6-7»45", ["6-^7 4 5", "6- 7 4 5"]),
    ("1«2m7»5", ["1 2-^7 5", "1 2- 7 5"]),
    ("1«2m6»5", ["1 2-^6 5", "1 2- 6 5"]),
    ("«169» 4", ["1^69 4", "1 6^9 4"]),
    ("«5-7» 1", ["5-^7 1", "5 7 1"]),
    ("«1-5-6-4»", ["1 5 6 4", "1- 5- 6- 4"]),
    ("4 «6-2-3-1»", ["4 6- 2- 3- 1", "4 6 2 3 1"]),
    ("«1-5» 6-4", ["1 5 6- 4", "1- 5 6- 4"]),
    ("«b7-4»", ["b7 4", "b7- 4"]),
    ("«1-2/4»", ["1 (2/4)", "1- (2/4)"]),
    ("«1 - 5 - 6- - 4» . 1", ["1 5 6- 4 . 1", "1 1 5 5 6- 6- 4 . 1"]),
    ("«1---»", ["1 1 1 1", "1"]),
    ("«1 - - -»", ["1 1 1 1", "1"]),
    ("«1--- 4 5 - - -»", ["1 1 1 1 4 5 5 5 5", "1 4 5"]),
    ("«6-- 5»", ["6 6 6 5", "6- 6- 5"]),
    ("meter: 3/4\n«1-- 5--»", ["1 1 1 5 5 5", "1 5", "1- 1- 5- 5-"]),
    ("4 «1!»", ["4 1c", "4 1d", "4 1"]),
    ("(1 «5!!») 4", ["(1 5c) 4", "(1 5d) 4", "(1 5) 4"]),
    ("«>1» 4", ["1p 4", "1 4"]),
    ("«6m7>» 4", ["6-^7p 4", "6-^7 4"]),
    ("«^4» 1", ["4c 1", "4p 1", "4 1"]),
    ("4 «1<»", ["4 1p", "4 1d"]),
    ("1 «5(2)» 4", ["1 5 2 4", "1 5 5 4", "1 5/2 4"]),
    ("«(1 4 5 1) x2»", ["(1 4 5 1) (1 4 5 1)", "1 4 5 1 . 1 4 5 1"]),
    ("1 «2 min 7» 5", ["1 2-^7 5", "1 2- 7 5"]),
    ("«1 maj 7/3» 4", ["1^maj7/3 4", "1 7/3 4"]),
    ("«5 sus 4» 1", ["5^sus4 1", "5^sus4 4 1"]),
    ("«1+5» 4", ["1+ 5 4", "(1 5) 4"]),
    ("«Ferry Song»\n1 4", ["1 4", "1 4"]),
    ("1 «2/4» 5", ["1 [2/4] 5", "1 (2/4) 5"]),
    ("«3/4» 5 4", ["[3/4] 5 4", "(3/4) 5 4"]),
    ("«| 1 1 5 5 | 4 4 1 1 |»", ["1 1 5 5 . 4 4 1 1", "(1 1 5 5) (4 4 1 1)"]),
    ("«1 4 . 5 1 x2»", ["1 4 . 5 1 . 1 4 . 5 1", "1 4 . 5 1 . 5 1"]),
    ("«I6» IV", ["1^6 4", "1/3 4"]),
    ("«ii6» V", ["2-^6 5", "2-/4 5"]),
    ("«Chorus 2x:»\n1 4\n5 1", ["1 4 . 5 1", "1 4 . 5 1 . 1 4 . 5 1"]),
    ("«[Verse (x3)]» 1 4", ["1 4", "1 4 . 1 4 . 1 4"]),
]  # fmt: skip


def parts(marked: str) -> tuple[str, str, str]:
    """The text before, between and after the marks."""
    before, _, rest = marked.partition("«")
    asked, _, after = rest.partition("»")
    return before, asked, after


def bars_of(text: str, *, strict: bool = True) -> str:
    """The bars of a text as notation, a dot after each phrase but the last."""
    chart = parse(text) if strict else parse_tolerant(text).chart
    assert chart is not None
    phrases = [phrase for section in chart.sections for phrase in section.phrases]
    return " . ".join(" ".join(format_bar(bar, chart) for bar in each.bars) for each in phrases)


def only_question(text: str) -> Question:
    """The one question of a text with nothing wrong in it."""
    result = parse_tolerant(text)
    assert result.problems == ()
    (question,) = result.questions
    return question


@pytest.mark.parametrize(("marked", "readings"), QUESTIONS)
def test_a_doubt_is_asked_about_where_it_stands(marked: str, readings: list[str]) -> None:
    """One question lies on the doubtful text; meanwhile the bars are those of its first choice."""
    before, asked, after = parts(marked)
    text = before + asked + after
    question = only_question(text)
    line = before.count("\n") + 1
    column = len(before) - before.rfind("\n")
    assert (question.line, question.column) == (line, column)
    assert question.end_column == column + len(asked)
    assert len(question.choices) == len(readings)
    assert bars_of(text, strict=False) == readings[0]


@pytest.mark.parametrize(("marked", "readings"), QUESTIONS)
def test_an_answer_is_read_as_it_says_and_never_asked_again(
    marked: str, readings: list[str]
) -> None:
    """The text of each choice, put in place, leaves nothing to ask and makes its own bars."""
    before, asked, after = parts(marked)
    text = before + asked + after
    question = only_question(text)
    for choice, reading in zip(question.choices, readings, strict=True):
        assert bars_of(answered(text, question, choice)) == reading, choice


def test_questions_of_one_kind_have_the_same_answers() -> None:
    """What is typed alike all over a song is asked about as one kind; other things are not."""
    for line in ("2/4 5", "| 1 4 5 1 | 4 4 1 1 |", "1 - 5 - 6", "1 - - -", "1! 4"):
        questions = parse_tolerant(f"{line}\n4 {line}\n{line}").questions
        assert len(questions) > 1
        assert {each.kind for each in questions} == {questions[0].kind}
        assert questions[0].kind
        labels = {tuple(choice.label for choice in each.choices) for each in questions}
        assert len(labels) == 1, line
    assert [each.kind for each in parse_tolerant("57 1 57").questions] == ["", ""]
    assert len({each.kind for each in parse_tolerant("1! 4> 5^").questions}) == 2


def test_what_bar_lines_hold_is_said_once_for_a_song() -> None:
    """The header line of an answer settles every line, those typed later included, and leaves a
    line alone that could be read in one way only."""
    text = "| 1 4 5 1 | 4 4 1 1 |\n| 1 | 4 5 |\n| 6- 4 1 5 | 4 4 1 1 |"
    first = parse_tolerant(text).questions[0]
    phrases, bars = (answered(text, first, choice) for choice in first.choices)
    assert bars_of(phrases) == "1 4 5 1 . 4 4 1 1 . 1 (4 5) . 6- 4 1 5 . 4 4 1 1"
    assert bars_of(bars) == "(1 4 5 1) (4 4 1 1) . 1 (4 5) . (6- 4 1 5) (4 4 1 1)"
    (problem,) = parse_tolerant("bar lines: maybe\n1").problems
    assert (problem.found, problem.expected) == ("bar lines 'maybe'", "bars or phrases")


def test_a_question_is_put_as_a_musician_would() -> None:
    """The sentence names both readings, and each choice is labelled with its own."""
    question = only_question("1 57")
    assert question.asked == "5^7, or 5 and then 7?"
    assert [choice.label for choice in question.choices] == ["5^7", "5 then 7"]
    assert only_question("2/4 5").asked == "A bar of 2/4, or the chord 2 over 4?"


def test_the_bars_of_a_question_are_marked() -> None:
    """A question names its first bar, and all its bars are unsure until it is answered."""
    result = parse_tolerant("1 4\n5 1-5-6-4 1\n57")
    assert [question.bar for question in result.questions] == [4, 9]
    assert result.invalid_bars == {4, 5, 6, 7, 9}


def test_a_file_may_hold_no_open_question() -> None:
    """The strict parser reports a question as a problem that names both readings."""
    with pytest.raises(NotationError) as caught:
        parse("1 8 57")
    first, second = caught.value.problems
    assert first.found == "8"
    assert (second.line, second.column) == (1, 5)
    assert second.found == "57, which could be read two ways"
    assert second.expected == "5^7 or 5 7"


@pytest.mark.parametrize("text", ["key: E minor\n1-5", "key: E minor\n4-7 1-", "key: A minor\n5-1"])
def test_a_minor_key_has_minor_chords_on_one_four_and_five(text: str) -> None:
    """In a minor key a dash after 1, 4 or 5 makes them minor, unasked."""
    result = parse_tolerant(text)
    assert (result.questions, result.problems) == ((), ())
    assert bars_of(text)[1] == "-"


def test_degrees_that_are_lowered_in_minor_are_asked_about_in_roman_numerals() -> None:
    """In a minor key VI may be b6 or 6; a flat or a natural sign settles it."""
    text = "key: E minor\ni VI iv"
    question = only_question(text)
    assert [choice.text for choice in question.choices] == ["bVI", "♮VI"]
    assert bars_of(text, strict=False) == "1- b6 4-"
    assert bars_of("key: E minor\ni ♮VI bVII iv") == "1- 6 b7 4-"


def test_a_question_within_a_line_comes_before_one_about_the_line() -> None:
    """Where chords of a line are asked about, the line as a whole is asked about afterwards."""
    text = "| 1 57 5 | 4 4 1 |"
    question = only_question(text)
    assert question.asked == "5^7, or 5 and then 7?"
    mended = text.replace("57", question.choices[0].text)
    assert only_question(mended).asked.startswith("Is each chord a bar")
    section = "Chorus 2x:\n1 57"
    assert only_question(section).asked == "5^7, or 5 and then 7?"
    assert "2 times" in only_question(section.replace("57", "5^7")).asked


def test_canonical_brackets_keep_a_chord_from_looking_like_a_meter() -> None:
    """A chord that looks like a meter stands in brackets where it is a bar of its own."""
    assert bars_of("(2/4) (3/4d) (6/4 1)") == "(2/4) 3/4d (6/4 1)"


@pytest.mark.parametrize("text", ["Intro: 3/4", "C/ / /Intro：3/4", "Verse:\n3/4"])
def test_no_meter_of_the_song_is_offered_behind_a_section_name(text: str) -> None:
    """`meter:` stands above the chart, so 3/4 under a section name can only be a chord."""
    result = parse_tolerant(text)
    assert (result.questions, result.problems) == ((), ())
    assert bars_of(text, strict=False) == "(3/4)"


def test_a_first_line_may_be_the_meter_of_the_song() -> None:
    """A 3/4 above everything else is asked about, and each answer ends the question."""
    question = only_question("3/4\nVerse:\n1 4")
    assert [choice.text for choice in question.choices] == ["(3/4)", "meter: 3/4"]
    for choice in question.choices:
        assert parse_tolerant(f"{choice.text}\nVerse:\n1 4").questions == ()
