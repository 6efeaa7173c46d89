"""Days of practice summed up."""

from __future__ import annotations

from datetime import date

import pytest

from trainer.drill import totals
from trainer.store import DayRecord

DAYS = (
    DayRecord(date(2026, 3, 1), 1, 4.0, 0.5, 1, None),
    DayRecord(date(2026, 3, 2), 3, 10.0, 0.9, 0, 2.0),
    DayRecord(date(2026, 3, 4), 2, 6.0, 0.8, 1, 5.0),
)


def test_days_are_summed_up() -> None:
    """Scores and first passes are weighed by attempts, lags by the days that have one."""
    found = totals(DAYS)
    assert (found.exercises, found.days, found.minutes) == (6, 3, 20.0)
    assert found.score == pytest.approx((0.5 + 3 * 0.9 + 2 * 0.8) / 6)
    assert found.first_pass == pytest.approx(2 / 6)
    assert found.lag_beats == pytest.approx(3.5)


def test_no_days_say_nothing() -> None:
    """Without an attempt there is no score, no share and no lag."""
    found = totals(())
    assert (found.exercises, found.score, found.first_pass, found.lag_beats) == (
        0,
        None,
        None,
        None,
    )
