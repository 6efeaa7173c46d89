"""Stretches to hear: how long, and which bars of either chart."""

from __future__ import annotations

import pytest

from trainer.chart import parse
from trainer.grade import grade
from trainer.grade.content import chart_content
from trainer.grade.excerpts import bar_durations_s, excerpt_around


@pytest.mark.parametrize(
    ("lasts", "first", "last", "expected"),
    [
        # The bar before, the bar itself, and on until five seconds are full.
        ([2.0] * 8, 4, 4, (3, 5)),
        ([1.0] * 12, 4, 4, (3, 7)),
        ([4.0] * 8, 4, 4, (3, 4)),
        # At the start there is no bar before; at the end the stretch begins earlier.
        ([2.0] * 8, 1, 1, (1, 3)),
        ([2.0] * 8, 8, 8, (6, 8)),
        # A long matter is cut off at fifteen seconds.
        ([2.0] * 16, 5, 12, (4, 10)),
        ([2.0] * 16, 5, 8, (4, 8)),
        # Bars of eight seconds: the bar alone.
        ([8.0] * 4, 3, 3, (3, 3)),
        ([20.0] * 4, 3, 3, (3, 3)),
        # A short song is heard whole.
        ([2.0, 2.0], 2, 2, (1, 2)),
    ],
)
def test_a_stretch_lasts_five_to_fifteen_seconds(
    lasts: list[float], first: int, last: int, expected: tuple[int, int]
) -> None:
    """With the bar before, as long as it takes, no longer than fifteen seconds."""
    assert excerpt_around(lasts, first, last) == expected


def test_bars_last_what_the_tempo_says() -> None:
    """At 120 a bar of four quarters lasts 2 s; in 6/8 the tempo counts dotted quarters."""
    for text, expected in (("tempo: 120\n1 [2/4] 1", [2, 1]), ("meter: 6/8\ntempo: 60\n1", [2])):
        chart = parse(text)
        assert bar_durations_s(chart_content(chart), chart) == pytest.approx(expected)


def heard(song: str, answer: str) -> list[tuple[tuple[int, int] | None, tuple[int, int] | None]]:
    """What to hear, piece of advice by piece of advice."""
    return [(one.listen, one.listen_answer) for one in grade(parse(song), parse(answer)).advice]


SONG = "1 4 5 6- . 2- 5 1 1 . 4 3- 2- 5"


def test_both_charts_are_heard_at_the_same_place() -> None:
    """A wrong bar, a bar left out, a bar too many and swapped phrases, each in its own numbers."""
    assert heard(SONG, SONG.replace("2- 5 1 1", "4 5 1 1")) == [((4, 6), (4, 6))]
    assert heard(SONG, SONG.replace("5 6- .", "6- .")) == [((2, 4), (2, 4))]
    assert heard(SONG, SONG.replace("5 6- .", "5 b7 6- .")) == [((3, 5), (3, 5))]
    # Bar 6 stands beside bar 5 of an answer without bar 3.
    without = SONG.replace("5 6- .", "6- .").replace("2- 5 1 1", "2- 5- 1 1")
    assert ((5, 7), (4, 6)) in heard(SONG, without)
    turned = "2- 5 1 1 . 1 4 5 6- . 4 3- 2- 5"
    assert heard(SONG, turned) == [((1, 6), (4, 9))]


def test_an_empty_answer_has_a_stretch_of_the_song_alone() -> None:
    """The first phrase is heard as played; there is nothing written to hear."""
    advice = grade(parse(SONG), None).advice[0]
    assert (advice.listen, advice.listen_answer) == ((1, 4), None)
