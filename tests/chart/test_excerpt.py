from __future__ import annotations

import pytest

from trainer.chart import excerpt, parse
from trainer.errors import ChartError

CHART = parse("key: D\nVerse:\n1 4 . [up 2] 5 1\nTag:\n[2/4] 4 1d")


def test_an_excerpt_has_the_bars_asked_for() -> None:
    """Bars, meters, phrases and sections are those of the chart; the whole is the chart."""
    part = excerpt(CHART, 2, 5)
    assert [str(bar.events[0].chord) for bar in part.bars()] == ["4", "5", "1", "4"]
    assert str(part.bars()[3].meter) == "2/4"
    assert [section.name for section in part.sections] == ["Verse", "Tag"]
    assert [len(phrase.bars) for phrase in part.sections[0].phrases] == [1, 2]
    assert excerpt(CHART, 1, 6) == CHART


def test_an_excerpt_sounds_in_the_key_that_holds() -> None:
    """After a key change the key is the new one, and the change is not made again."""
    assert str(excerpt(CHART, 2, 4).key) == "D"
    assert excerpt(CHART, 2, 4).bars()[1].key_change == 2
    for first in (3, 4, 6):
        part = excerpt(CHART, first, 6)
        assert str(part.key) == "E"
        assert not any(bar.key_change for bar in part.bars())


@pytest.mark.parametrize(("first", "last"), [(0, 1), (3, 2), (1, 7), (7, 7), (-2, -1)])
def test_bars_that_are_not_there(first: int, last: int) -> None:
    """What the chart does not have is an error that says what it has."""
    with pytest.raises(ChartError, match="expected bars from 1 to 6"):
        excerpt(CHART, first, last)
