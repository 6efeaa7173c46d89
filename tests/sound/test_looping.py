"""Renderings that are played over and over."""

from __future__ import annotations

from typing import cast

import numpy as np
import pytest

from tests.sound.test_player import RATE, FakeSound
from trainer.sound import Looped, Rendering


@pytest.mark.parametrize(
    ("start_s", "end_s", "first", "frames"),
    [(0.0, 0.25, 0, 2000), (0.05, 0.1, 400, 400), (0.0, 7.0, 0, RATE)],
)
def test_a_loop_goes_back_to_its_start(
    start_s: float, end_s: float, first: int, frames: int
) -> None:
    """Each turn is the rendering from the loop's start to its end, or to its own, with no gap."""
    looped = Looped(cast("Rendering", FakeSound()), start_s, end_s)
    assert looped.loop_frames == frames
    played: list[int] = []
    for block in looped:
        played += block[:, 0].tolist()
        if len(played) >= 3 * frames:
            break
    assert played[: 3 * frames] == [*range(first, first + frames)] * 3


def test_a_loop_is_as_long_as_it_says() -> None:
    """All turns together have `frames` frames, half an hour at most."""
    looped = Looped(cast("Rendering", FakeSound()), 0.0, 0.5)
    assert looped.sample_rate == RATE
    assert sum(len(block) for block in looped) == looped.frames <= 30 * 60 * RATE
    assert np.isclose(looped.frames / RATE, 30 * 60)
