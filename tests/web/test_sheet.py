"""How charts are drawn. What the chords mean is common practice of the trade, no source."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable
from html import unescape
from importlib.resources import files
from types import FrameType
from typing import Any

import pytest

from trainer.chart import Header, Meter, parse, parse_tolerant
from trainer.chart.chords import EXTENSIONS
from trainer.exercise import Exercise, load_songs
from trainer.web.views.messages import MOST_MESSAGES
from trainer.web.views.sheet import (
    ChordDrawing,
    Sheet,
    SheetBar,
    bar_drawings,
    sheet_of_chart,
    sheet_of_text,
)

DRAWN = {
    "1": ChordDrawing("", "1", "", "", "", 0, ""),
    "6-": ChordDrawing("", "6", "−", "", "", 0, ""),
    "#4o": ChordDrawing("♯", "4", "°", "", "", 0, ""),
    "7ø^7": ChordDrawing("", "7", "ø", "7", "", 0, ""),
    "5+": ChordDrawing("", "5", "+", "", "", 0, ""),
    "b7^maj7": ChordDrawing("♭", "7", "", "maj7", "", 0, ""),
    "5/7": ChordDrawing("", "5", "", "", "7", 0, ""),
    "4/b7": ChordDrawing("", "4", "", "", "♭7", 0, ""),
    "1d": ChordDrawing("", "1", "", "", "", 0, "hold"),
    "4p": ChordDrawing("", "4", "", "", "", 0, "push"),
    "5c": ChordDrawing("", "5", "", "", "", 0, "choke"),
    "0": ChordDrawing("", "", "", "", "", 0, ""),
}


@pytest.mark.parametrize("text", DRAWN)
def test_a_chord_is_drawn(text: str) -> None:
    """Each thing that can be written about a chord has its sign."""
    assert bar_drawings(parse(text))[1].chords == (DRAWN[text],)


def test_beats_stand_over_uneven_splits_only() -> None:
    """An even split needs no beats; an uneven one has a stroke for each."""
    even, uneven = bar_drawings(parse("(1 5/7) (1''' 5')")).values()
    assert [sign.beats for sign in even.chords] == [0, 0]
    assert [sign.beats for sign in uneven.chords] == [3, 1]


def test_meter_and_key_stand_before_the_bar_where_they_change() -> None:
    """A bar of another meter, and the first bar of another key, say so; the others do not."""
    drawn = bar_drawings(parse("key: D\n1 [2/4] 4 5 [up 2] 1 4"))
    assert [cell.meter for cell in drawn.values()] == ["", "2/4", "", "", ""]
    assert [cell.key for cell in drawn.values()] == ["", "", "", "E", ""]


def test_lines_stay_as_they_were_typed() -> None:
    """A line of text is a line of the sheet, its phrases parted; sections stand by name."""
    sheet = sheet_of_text(parse_tolerant("Verse 1:\n1 1 5 5 . 1 1 5\n4 4\n\nTag:\n1d"))
    assert [part.name for part in sheet.sections] == ["Verse 1", "Tag"]
    counted = [
        [[len(phrase) for phrase in line.phrases] for line in part.lines] for part in sheet.sections
    ]
    assert counted == [[[4, 3], [2]], [[1]]]


def bars_of(sheet: Sheet) -> list[SheetBar]:
    """All bars of a sheet in order."""
    return [
        bar
        for part in sheet.sections
        for line in part.lines
        for phrase in line.phrases
        for bar in phrase
    ]


def test_a_problem_stands_at_its_bar() -> None:
    """The bar that a problem is in says what it is, and where the bar is typed."""
    sheet = sheet_of_text(parse_tolerant("1 4 x 5\n1 9"))
    wrong = [bar for bar in bars_of(sheet) if bar.notes]
    assert [(bar.drawing.number, bar.span, bar.notes.problems[0].found) for bar in wrong] == [
        (3, (1, 5, 6), "x"),
        (6, (2, 3, 4), "9"),
    ]
    assert all(bar.drawing.is_unclear for bar in wrong)
    assert sheet.open_count == 2


def test_a_problem_in_no_bar_stands_at_its_line() -> None:
    """Where no bar is drawn the line of the text has a line of its own, in the section it is in or
    before the first."""
    sheet = sheet_of_text(parse_tolerant("key: H\nVerse:\n1 4\nTag:\n\nOutro:\n1"))
    assert [(line.number, line.phrases) for line in sheet.before] == [(1, ())]
    verse, outro = sheet.sections
    assert [(line.number, len(line.notes.problems)) for line in verse.lines] == [(3, 0), (4, 1)]
    assert [(line.number, len(line.notes.problems)) for line in outro.lines] == [(7, 0)]


def test_a_question_stands_at_its_bar() -> None:
    """What can be read in two ways is asked at the first bar that hangs on it."""
    bars = bars_of(sheet := sheet_of_text(parse_tolerant("1 57 4")))
    assert [len(bar.notes.questions) for bar in bars] == [0, 1, 0]
    (asked,) = bars[1].notes.questions
    assert [label for label, _ in asked.answers] == ["5^7", "5 then 7"]
    assert [json.loads(edits) for _, edits in asked.answers] == [
        [[1, 3, 5, "5^7"]], [[1, 3, 5, "5 7"]],
    ]  # fmt: skip
    assert bars[1].drawing.is_unclear
    assert sheet.open_count == 1


def test_one_question_is_asked_for_all_places_of_a_kind() -> None:
    """What is typed alike in several lines is asked once, at the first; an answer changes all of
    them, or puts one line at the top."""
    sheet = sheet_of_text(parse_tolerant("1! 4\n5 1!\n57"))
    questions = [each for bar in bars_of(sheet) for each in bar.notes.questions]
    assert [each.places for each in questions] == [2, 1]
    _, edits = questions[0].answers[1]
    assert json.loads(edits) == [[1, 1, 3, "1d"], [2, 3, 5, "1d"]]
    assert sheet.open_count == 2
    lines = sheet_of_text(parse_tolerant("| 1 4 5 1 | 4 4 1 1 |\n| 1 4 5 1 | 4 4 1 1 |"))
    (asked,) = [each for bar in bars_of(lines) for each in bar.notes.questions]
    assert asked.is_for_song
    assert json.loads(asked.answers[1][1]) == [[1, 1, 1, "bar lines: bars\n"]]


def test_letter_names_are_told_once_for_the_song() -> None:
    """One note at the first letter name says how many there are; the bars of all are marked."""
    sheet = sheet_of_text(parse_tolerant("C F G C\nAm F C x"))
    bars = bars_of(sheet)
    told = [bar.notes.letters for bar in bars if bar.notes.letters is not None]
    assert [(names.count, names.first) for names in told] == [(7, "C")]
    assert [len(bar.notes.problems) for bar in bars] == [0] * 7 + [1]
    assert all(bar.drawing.is_unclear for bar in bars)
    assert sheet.open_count == 2


def test_a_gap_is_drawn_as_one() -> None:
    """A bar that is not known yet is no bar without a chord, and no mistake."""
    sheet = sheet_of_text(parse_tolerant("1 ? 0"))
    drawn = [(bar.drawing.is_open, bar.drawing.is_unclear) for bar in bars_of(sheet)]
    assert drawn == [(False, False), (True, False), (False, False)]
    assert (sheet.open_count, sheet.gap_count) == (0, 1)


def test_no_more_is_said_than_can_be_read() -> None:
    """Of very many problems the first are said; the bars of all are marked, and all are counted."""
    sheet = sheet_of_text(parse_tolerant("x " * (2 * MOST_MESSAGES)))
    bars = bars_of(sheet)
    assert [bool(bar.notes) for bar in bars] == [True] * MOST_MESSAGES + [False] * MOST_MESSAGES
    assert all(bar.drawing.is_unclear for bar in bars)
    assert sheet.open_count == 2 * MOST_MESSAGES


@pytest.mark.parametrize("song", load_songs(), ids=lambda song: song.recipe["song"])
def test_no_bar_of_a_song_is_lost(song: Exercise) -> None:
    """The sheet of a song has all its bars in order and its sections by name."""
    sheet = sheet_of_chart(song.chart)
    numbers = [bar.drawing.number for bar in bars_of(sheet)]
    assert numbers == list(range(1, len(song.chart.bars()) + 1))
    assert [part.name for part in sheet.sections] == [part.name for part in song.chart.sections]
    assert not sheet.open_count


def test_nothing_typed_is_no_sheet() -> None:
    """A text without a bar has no sections, but its problems."""
    sheet = sheet_of_text(parse_tolerant("Verse:"))
    assert not sheet.sections
    assert [len(line.notes.problems) for line in sheet.before] == [1]


@pytest.mark.parametrize(("text", "said"), [("1 4^", "4c"), ("1 x", "")])
def test_a_sign_of_the_sheet_is_led_to_its_letter(text: str, said: str) -> None:
    """A learner who types an articulation as it is drawn is told the letter to write."""
    sheet = sheet_of_text(parse_tolerant(text))
    problems = [problem for bar in bars_of(sheet) for problem in bar.notes.problems]
    hint = problems[0].hint
    assert hint.endswith(said)
    assert bool(hint) == bool(said)


METERS = {"(1'' 5')": Meter(3, 4), "(4'''' 5'')": Meter(6, 8)}


def test_the_card_is_written_in_the_notation() -> None:
    """Every example on the card of the page to write on is read without a problem, and the card
    names every extension of a major chord."""
    card = (files("trainer.web") / "templates" / "_guide.html").read_text("utf-8")
    examples = [unescape(text) for text in re.findall("<code>(.+?)</code>", card)]
    for text in examples:
        if text not in ("^", "Verse:"):
            header = Header(meter=METERS.get(text, Meter(4, 4)))
            assert parse_tolerant(text, header).problems == (), text
    words = set(re.findall(r"[\w#]+", card))
    assert set(EXTENSIONS[""]) <= words | {text.partition("^")[2] for text in examples}


def _lines_run(text: str) -> int:
    """How many lines of Python run to draw a text, the same on any machine."""
    count = 0

    def trace(_frame: FrameType, event: str, _argument: object) -> Callable[..., Any]:
        nonlocal count
        count += event == "line"
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        sheet_of_text(parse_tolerant(text))
    finally:
        sys.settrace(before)
    return count


@pytest.mark.parametrize(
    "unit", ["(1' 2')", "1 x", "x|", "1^ ", "%", "'", "^", "(", "1_", "1:", "Verse 1:\n", "a b\n"]
)
def test_a_wrong_text_costs_no_more_than_its_length(unit: str) -> None:
    """Twice as much of the same wrong text takes at most twice the work to read and draw."""
    once, twice = (_lines_run(unit * times) for times in (400, 800))
    assert twice < 2.3 * once
