"""Renderings that are played over and over."""

from __future__ import annotations

from typing import cast

import numpy as np
import pytest

from tests.sound.test_player import RATE, FakeSound
from trainer.sound import Looped, Rendering


@pytest.mark.parametrize(("end_s", "frames"), [(0.25, 2000), (0.1, 800), (7.0, RATE)])
def test_a_loop_goes_back_to_its_start(end_s: float, frames: int) -> None:
    """Each turn is the rendering up to the end of the loop, or to its own; there is no gap."""
    looped = Looped(cast("Rendering", FakeSound()), end_s)
    assert looped.loop_frames == frames
    played: list[int] = []
    for block in looped:
        played += block[:, 0].tolist()
        if len(played) >= 3 * frames:
            break
    assert played[: 3 * frames] == [*range(frames)] * 3


def test_a_loop_is_as_long_as_it_says() -> None:
    """All turns together have `frames` frames, half an hour at most."""
    looped = Looped(cast("Rendering", FakeSound()), 0.5)
    assert looped.sample_rate == RATE
    assert sum(len(block) for block in looped) == looped.frames <= 30 * 60 * RATE
    assert np.isclose(looped.frames / RATE, 30 * 60)
