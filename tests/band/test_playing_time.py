"""How long a chart plays, before it is arranged."""

from __future__ import annotations

import random

import pytest

from trainer.band import Mix, arrange, playing_time_s
from trainer.chart import parse

CHART = parse("meter: 6/8\ntempo: 50\n\n1 4 [2/4] 5 1 . 4 5 1 1c")


@pytest.mark.parametrize("tempo", [None, 80.0])
@pytest.mark.parametrize("mix", [Mix(), Mix(tonic_first=True)])
@pytest.mark.parametrize("count_off", [True, False])
def test_the_time_is_that_of_the_arrangement(
    tempo: float | None, mix: Mix, count_off: bool
) -> None:
    """It is the length of the arrangement with the same parameters, bars of other meters too."""
    made = arrange(CHART, rng=random.Random(1), mix=mix, tempo=tempo, count_off=count_off)
    assert playing_time_s(CHART, mix=mix, tempo=tempo, count_off=count_off) == pytest.approx(
        made.length_s
    )
