"""Contents of bars: which are equal, and that the tables that keep them change no result."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from fractions import Fraction
from itertools import product

import pytest

from trainer.chart import Bar, Chord, Event, Meter, parse
from trainer.chart.chords import EXTENSIONS, QUALITIES
from trainer.grade import grade, report_to_json
from trainer.grade.content import (
    MOST_CACHED,
    bar_content,
    chart_content,
    in_first_key,
    transposed_bar,
)


def different_bars(number: int) -> list[Bar]:
    """So many bars of two chords, no two of them alike."""
    chords = [
        Chord(degree, 0, quality, extension)
        for degree in range(1, 8)
        for quality in QUALITIES
        for extension in ("", *EXTENSIONS[quality])
    ]
    meter = Meter(4, 4)
    half = Fraction(meter.beats, 2)
    pairs = list(product(chords, repeat=2))[:number]
    assert len(pairs) == number
    return [Bar(meter, (Event(one, half), Event(other, half))) for one, other in pairs]


@pytest.mark.many
def test_a_grade_does_not_depend_on_what_was_graded_before() -> None:
    """The report stays the same when so many bars came between that the tables are full."""
    song, answer = parse("1 4 5 6- . 2- 5 1 1"), parse("1 5 4 6- . 2- 5 1 1")
    fresh = report_to_json(grade(song, answer))
    assert [edit["kind"] for edit in fresh["happenings"]] == ["swapped"]
    for bar in different_bars(MOST_CACHED + 1):
        bar_content(bar)
    assert report_to_json(grade(song, answer)) == fresh


@pytest.mark.many
def test_equal_bars_have_one_content_before_and_after_the_table_is_full() -> None:
    """What is written alike has the same content for as long as anybody holds it."""
    chart = parse("1 (4 5) [up 2] 1d")
    before = chart_content(chart).contents
    for bar in different_bars(MOST_CACHED + 1):
        bar_content(bar)
    after = chart_content(chart).contents
    assert all(one is other for one, other in zip(before, after, strict=True))


def test_contents_are_made_once_by_many_threads() -> None:
    """Threads that meet a bar at the same time get the same content."""
    bars = [parse(f"[up {1 + number % 11}] {number}").bars()[0] for number in (1, 2, 3) * 8]
    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(bar_content, bars * 20))
    assert len(set(found)) == len({bar_content(bar) for bar in bars})


def test_contents_differ_in_whatever_is_written_and_in_the_tonic() -> None:
    """Meter, key change, chord, beats, articulation and the counting of a bar tell it apart."""
    texts = ("1", "1-", "1/3", "1d", "1p", "(1 4)", "(1''' 4')", "0", "[2/4] 1", "[up 2] 1")
    charts = [chart_content(parse(text)) for text in texts]
    contents = [chart.contents[0] for chart in charts]
    contents += [transposed_bar(charts[0].contents[0], 5), in_first_key(charts[-1]).contents[0]]
    assert len(set(contents)) == len(contents)
