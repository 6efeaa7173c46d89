"""The components of a bar lose only what is wrong in them, however the answer is read."""

from __future__ import annotations

import pytest

from trainer.chart import parse
from trainer.grade import BarGrade, Report, grade

CHORDS = ("root", "quality", "bass")


def graded(played: str, written: str) -> Report:
    """The report on an answer, both in notation."""
    return grade(parse(played), parse(written))


def is_whole(row: BarGrade, *parts: str) -> bool:
    """Whether a bar has all credit for some components."""
    return all(getattr(row, part) == 1.0 for part in parts)


def test_a_missing_key_sign_takes_nothing_from_right_numbers() -> None:
    """The bars after a key change without its sign lose by the key alone."""
    report = graded("1 4 5 1 . [up 2] 1 (4 5) 6-p 1", "1 4 5 1 . 1 (4 5) 6-p 1")
    after = report.bars[5:]
    assert all(is_whole(row, *CHORDS, "placement", "articulation", "meter") for row in after)
    assert all(row.score == row.key_change == report.weights.key_sign for row in after)
    assert (report.parts.root, report.parts.placement) == (1.0, 1.0)


def test_another_home_takes_nothing_from_what_is_no_number() -> None:
    """Counted from another 1 the numbers are wrong; splits and pushes are as right as written."""
    report = graded("1 (4 5) 6-p 1", "4 (b7 1) 2-p 4")
    keep = report.weights.other_home
    assert all(is_whole(row, "placement", "articulation", "meter") for row in report.bars)
    assert [row.root for row in report.bars] == pytest.approx([keep] * 4)


def test_another_meter_takes_nothing_from_the_chords() -> None:
    """The meter's name is wrong, what stands in the bars is not."""
    report = graded("meter: 12/8\n1 4 5 1", "meter: 4/4\n1 4 5 1")
    assert all(is_whole(row, *CHORDS, "placement", "articulation") for row in report.bars)
    assert all(row.score == row.meter == report.weights.other_pulse for row in report.bars)


@pytest.mark.parametrize(
    "written", ["(1 4) (5 1) (6- 4) (5 1)", "1 1 4 4 5 5 1 1 6- 6- 4 4 5 5 1 1"]
)
def test_another_count_takes_nothing_from_the_chords(written: str) -> None:
    """Counted double or half each chord is right, and none was taken for another."""
    report = graded("1 4 5 1 6- 4 5 1", written)
    rows = [row for row in report.bars if row.reference is not None]
    assert len(rows) == 8
    assert all(is_whole(row, *CHORDS) and row.placement < 1 for row in rows)
    assert report.confusions == ()


@pytest.mark.parametrize(
    ("played", "written"), [("1 4 5 6- 4 1", "1 (4 5) 6- 4 1"), ("1 (4 5) 6- 4 1", "1 4 5 6- 4 1")]
)
def test_two_bars_for_one_are_no_other_chords(played: str, written: str) -> None:
    """A split written as two bars, or two bars as one, is wrong in where a bar ends, not in its
    chords."""
    report = graded(played, written)
    rows = [row for row in report.bars if row.reference is not None]
    assert all(is_whole(row, *CHORDS) for row in rows)
    assert {row.placement for row in rows} == {0.0, 1.0}
    assert report.confusions == ()
