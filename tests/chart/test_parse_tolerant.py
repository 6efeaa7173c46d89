from __future__ import annotations

import pytest

from trainer.chart import Feel, Header, Key, Meter, ParseResult, parse_tolerant
from trainer.chart.format import format_bar


def bars_of(result: ParseResult) -> list[str]:
    """The bars of a result as notation."""
    assert result.chart is not None
    return [format_bar(bar, result.chart) for bar in result.chart.bars()]


@pytest.mark.parametrize(
    "text", ["", "\n", "title: Ferry", "key", "Verse", "Verse:", "[2/", "(", "_"]
)
def test_no_chart_before_the_first_bar(text: str) -> None:
    """While no bar is typed there is no chart, only problems."""
    result = parse_tolerant(text)
    assert result.chart is None
    assert result.problems
    assert (result.bar_spans, result.invalid_bars) == ((), frozenset())


@pytest.mark.parametrize(
    ("text", "bars", "unsure"),
    [
        ("1 4 5", ["1", "4", "5"], set()),
        ("1 8 5", ["1", "0", "5"], {2}),
        ("1 5^foo 5", ["1", "0", "5"], {2}),
        ("1 (x 5) 5", ["1", "0", "5"], {2}),
        ("1 1_5 5", ["1", "0", "5"], {2}),
        ("1 7h 5", ["1", "0", "5"], {2}),
        ("1 4s 5", ["1", "4", "5"], {2}),
        ("1 (key +2) 4 5", ["1", "4", "5"], set()),
        ("% 1 5", ["0", "1", "5"], {1}),
        ("1 Am 5", ["1", "0", "5"], {2}),
        ("1 | 5", ["1", "5"], set()),
        ("1 [5] 5", ["1", "0", "5"], {2}),
        ("1 [key H] 5", ["1", "5"], set()),
        ("1 (6/8) 5", ["1", "5"], set()),
        ("[2/4] 8 1", ["[2/4] 0", "1"], {1}),
    ],
)
def test_a_wrong_bar_keeps_its_place(text: str, bars: list[str], unsure: set[int]) -> None:
    """A bar that cannot be understood is a bar with no chord, and its number is unsure."""
    result = parse_tolerant(text)
    assert bars_of(result) == bars
    assert result.invalid_bars == unsure


@pytest.mark.parametrize(
    ("text", "bars"),
    [
        ("1 (5", ["1", "5"]),
        ("1 (5 4", ["1", "(5 4)"]),
        ("1 [2/4] (1 5", ["1", "[2/4] (1 5)"]),
        ("1 5/", ["1", "5"]),
        ("1 5/b", ["1", "5"]),
        ("1 5^", ["1", "5"]),
        ("1 5^ma", ["1", "5"]),
        ("1 5^su", ["1", "5"]),
        ("1 5-^", ["1", "5-"]),
        ("1 5^7/", ["1", "5^7"]),
        ("1 (1'''", ["1", "1"]),
        ("1 1'''", ["1", "1"]),
        ("1 (1''' 5", ["1", "(1 5)"]),
    ],
)
def test_an_unfinished_bar_shows_what_there_is(text: str, bars: list[str]) -> None:
    """An unfinished bar is drawn as far as it goes, and is unsure until it is finished."""
    result = parse_tolerant(text)
    assert bars_of(result) == bars
    assert result.invalid_bars == {2}
    assert len(result.problems) == 1


def test_places_point_at_the_typed_bars() -> None:
    """Each bar's place is its own text, its directive included."""
    text = "Verse:\n  1 [2/4] (1 5/7) . (6-''' 5')\n4"
    result = parse_tolerant(text)
    lines = text.split("\n")
    typed = [lines[p.line - 1][p.column - 1 : p.end_column - 1] for p in result.bar_spans]
    assert typed == ["1", "[2/4] (1 5/7)", "(6-''' 5')", "4"]


def test_a_bad_header_line_falls_back() -> None:
    """Where a header line is wrong, the header argument holds."""
    given = Header("Ferry", Meter(3, 4), 80.0, Feel.WALTZ, Key("G"))
    text = "title: \x07\nmeter: 4:4\ntempo: x\nfeel: y\nkey: z\n1"
    result = parse_tolerant(text, given)
    assert len(result.problems) == 5
    chart = result.chart
    assert chart is not None
    assert (chart.title, chart.meter, chart.tempo) == ("Ferry", Meter(3, 4), 80)
    assert (chart.feel, chart.key) == (Feel.WALTZ, Key("G"))


def test_a_feel_is_not_blamed_for_a_bad_meter() -> None:
    """Where the meter is wrong, a feel that goes with the meant one is no second problem."""
    result = parse_tolerant("meter: 6:8\nfeel: 6/8\n1")
    assert [problem.line for problem in result.problems] == [1]


def test_sections_without_bars_are_left_out() -> None:
    """A section whose bars are still to come is no section of the result yet."""
    result = parse_tolerant("Verse:\n1 4\nChorus:")
    assert result.chart is not None
    assert [section.name for section in result.chart.sections] == ["Verse"]


def test_a_label_that_runs_into_its_bars_still_starts_its_section() -> None:
    """A section's name before bars without a colon starts the section, and its number is asked."""
    result = parse_tolerant("1 4\nChorus 2 5 1\n5 1")
    assert result.chart is not None
    assert [section.name for section in result.chart.sections] == ["", "Chorus 2"]
    assert [question.line for question in result.questions] == [2]
    assert result.problems == ()


def test_a_header_argument_that_cannot_be_is_a_problem() -> None:
    """A header argument no chart can have is reported, not raised."""
    result = parse_tolerant("1", Header(tempo=1.0))
    assert result.chart is None
    assert [problem.found for problem in result.problems] == ["1.0"]
