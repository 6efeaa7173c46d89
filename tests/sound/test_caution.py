from __future__ import annotations

import pytest

from trainer.sound import HEARING_CAUTION


@pytest.mark.parametrize(
    "said",
    [
        "volume low before",
        "break",
        "comfortable",
        "H.870",
        "80 dBA for 40 hours a week",
        "75 dBA",
        "cannot know how loud",
        "Local rules",
        "hearing professional",
    ],
)
def test_what_the_caution_says(said: str) -> None:
    """The caution names the level, breaks, comfort, the WHO-ITU figures and its own limits."""
    assert said in " ".join(HEARING_CAUTION.split())


def test_three_decibels_halve_the_time() -> None:
    """The figures agree: hours = 40·10^((80−L)/10), so 83 dBA is 20 hours (H.870 summary)."""
    assert round(40 * 10 ** ((80 - 83) / 10)) == 20
    assert "Each 3 dB more halves the time" in " ".join(HEARING_CAUTION.split())
