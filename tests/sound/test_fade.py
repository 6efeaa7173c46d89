"""A fade as it is heard, and a piece that begins with silence."""

from __future__ import annotations

import random
from itertools import pairwise

import numpy as np
import pytest

from tests.sound.pieces import whole
from trainer.band import arrange
from trainer.chart import parse
from trainer.sound import Synth, measure

pytestmark = pytest.mark.audio
RATE = 44100
SONG = parse("tempo: 112\nVerse:\n1 4 1 5 . 1 4 5 1\nOutro:\n[fade] 1 4 1 4 . 1 4 1 4")


@pytest.mark.parametrize("band", ["work tape", "full"])
def test_the_band_fades_to_silence(synth: Synth, band: str) -> None:
    """Bar after bar is softer, by half until the middle of the fade, and nothing is left after it;
    before it the song is as loud as any (−18 LUFS ±1.5, ITU-R BS.1770)."""
    rendering = synth.render(arrange(SONG, rng=random.Random(1), band=band))
    samples = whole(rendering)
    bars = [samples[round(a * RATE) : round(b * RATE)] for a, b in rendering.bar_times_s]
    levels = [10 * np.log10(np.mean(bar.astype(float) ** 2)) for bar in bars]
    pairs = [(levels[k] + levels[k + 1]) / 2 for k in range(8, 16, 2)]
    assert all(later < earlier - 1 for earlier, later in pairwise(pairs))
    assert levels[8] > np.mean(levels[:8]) - 3
    assert levels[15] < np.mean(levels[:8]) - 15
    end = round(rendering.bar_times_s[-1][1] * RATE)
    assert np.abs(samples[end + RATE // 10 :]).max() < 30
    before = samples[round(0.4 * RATE) : round(rendering.bar_times_s[8][0] * RATE)]
    assert measure(before, RATE).lufs == pytest.approx(-18, abs=1.5)


def test_a_fade_from_the_middle_has_the_same_bytes(synth: Synth) -> None:
    """A rendering begun within the fade continues as the whole does."""
    rendering = synth.render(arrange(SONG, rng=random.Random(1)))
    at = round(rendering.bar_times_s[13][0] * RATE)
    late = np.concatenate(list(rendering.blocks(at)))
    assert np.array_equal(whole(rendering)[at:], late)


def test_room_is_silent_and_the_click_is_on_time(synth: Synth) -> None:
    """Half a second of silence comes first; the first click is where it is said to be."""
    samples = np.abs(whole(synth.render(arrange(SONG, rng=random.Random(1))))).max(axis=1)
    first = int(np.flatnonzero(samples > 200)[0])
    assert samples[: round(0.49 * RATE)].max() == 0
    assert first / RATE == pytest.approx(0.5, abs=0.012)
