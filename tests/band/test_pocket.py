"""Who keeps time with whom."""

from __future__ import annotations

from trainer.band.pocket import place_s


def test_a_foot_keeps_the_time_of_its_guitar() -> None:
    """On a work tape the player's foot and hands are in one place, on the clock."""
    assert place_s("foot", "work tape") == place_s("guitar", "work tape") == 0
