"""The sign for a fade: read, written, spoken, kept in JSON, and refused twice."""

from __future__ import annotations

import pytest

from trainer.chart import (
    chart_from_json,
    chart_to_json,
    excerpt,
    format_chart,
    format_letters,
    parse,
    parse_tolerant,
    say_bar,
)
from trainer.chart.format import format_bar
from trainer.errors import ChartError

SONG = "Chorus:\n1 4 1 4\n[fade] 1 4 1 4\n"


@pytest.mark.parametrize(
    "line",
    ["[fade] 1 4", "[Fade] 1 4", "[fade out] 1 4", "[ fades ] 1 | 4", "[fading out] 1 4"],
)
def test_the_bar_after_the_sign_is_where_the_fade_begins(line: str) -> None:
    """However the sign is typed, the band fades from the bar after it, and no other is marked."""
    chart = parse(f"5\n{line}")
    assert [bar.fades for bar in chart.bars()] == [False, True, False]
    assert chart.fade_bar == 2
    assert len(chart.sections) == 1


def test_the_canonical_text_keeps_the_fade_before_other_signs() -> None:
    """Fade, key move and meter of one bar are written in one order, and the line begins there."""
    chart = parse("1 4 . [2/4] [up 2] [fade] 5 1")
    assert format_bar(chart.bars()[2], chart) == "[fade] [up 2] [2/4] 5"
    assert parse(format_chart(chart)) == chart
    assert format_letters(parse(f"key: D\n{SONG}")).splitlines()[-1] == "[fade] D G D G"
    assert format_chart(parse(SONG)).splitlines()[-1] == "[fade] 1 4 1 4"


def test_json_has_the_fade_where_it_is() -> None:
    """The bar that fades has a key of its own, other bars have none, and reading gives it back."""
    chart = parse(SONG)
    data = chart_to_json(chart)
    bars = [bar for phrase in data["sections"][0]["phrases"] for bar in phrase["bars"]]
    assert [bar.get("fade") for bar in bars] == [None] * 4 + [True] + [None] * 3
    assert chart_from_json(data) == chart


def test_a_fade_is_said_to_the_players() -> None:
    """Read aloud, the bar says that the band fades out from it (common practice, no source)."""
    assert say_bar(parse(SONG).bars()[4]) == "the band fades out from here: one"


def test_a_second_fade_is_a_mistake_at_its_bar() -> None:
    """A band that fades already cannot begin to; the bar is read all the same."""
    result = parse_tolerant("1 [fade] 4\n1 [fade] 5")
    (problem,) = result.problems
    assert (problem.line, problem.column, problem.found) == (2, 3, "a second [fade]")
    assert result.chart is not None
    assert result.chart.fade_bar == 2
    assert len(result.chart.bars()) == 4
    with pytest.raises(ChartError, match=r"bar 2: found a second \[fade\]"):
        chart_from_json(
            {
                **chart_to_json(parse("[fade] 1 4")),
                "text": "[fade] 1 [fade] 4",
                "sections": [
                    {
                        "name": "",
                        "phrases": [
                            {"bars": [_bar_that_fades(), _bar_that_fades()]},
                        ],
                    }
                ],
            }
        )


def _bar_that_fades() -> dict[str, object]:
    return chart_to_json(parse("[fade] 1"))["sections"][0]["phrases"][0]["bars"][0]


def test_two_fades_before_one_bar_and_one_with_no_bar() -> None:
    """Both are reported where they stand."""
    problems = parse_tolerant("[fade] [fade] 1\n4 [fade]").problems
    assert [(each.line, each.column) for each in problems] == [(1, 8), (2, 3)]
    assert problems[0].found == "a second fade before one bar"
    assert problems[1].found == "[fade] with no bar after it"


@pytest.mark.parametrize(
    "words", ["repeat and fade", "Repeat & fade", "fade out", "(fade)", "vamp till fade"]
)
def test_words_for_a_fade_name_the_sign(words: str) -> None:
    """Among the bars, words for a fade are one problem that says to write the sign."""
    result = parse_tolerant(f"1 4 {words}")
    (problem,) = result.problems
    assert problem.expected.startswith("[fade] before the bar")
    assert result.chart is not None
    assert len(result.chart.bars()) == 2


def test_fade_with_a_colon_is_a_section() -> None:
    """A section may be called so, as it is on many sheets."""
    chart = parse("Verse:\n1 4\nFade:\n1 4")
    assert [section.name for section in chart.sections] == ["Verse", "Fade"]
    assert chart.fade_bar is None


def test_an_excerpt_fades_only_if_it_ends_with_the_song() -> None:
    """Bars cut out of a fade are played in full, so that they can be heard."""
    chart = parse(SONG)
    assert excerpt(chart, 4, 8).fade_bar == 2
    assert excerpt(chart, 4, 7).fade_bar is None
    assert excerpt(chart, 6, 8).fade_bar is None
