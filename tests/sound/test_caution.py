from __future__ import annotations

import re
from importlib.resources import files
from pathlib import Path

import numpy as np
import pyloudnorm
import pytest

from tests.benchmarks.loudness import exercise
from trainer.band import BANDS, level_check_chord
from trainer.generate import STYLES
from trainer.sound import HEARING_CAUTION, Rendering, Synth, find_soundfont
from trainer.sound.soundfonts import bundled_soundfont


@pytest.mark.parametrize(
    "said",
    [
        "volume low before",
        "break",
        "comfortable",
        "H.870",
        "80 dBA for 40 hours a week",
        "75 dBA",
        "can't know how loud",
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


def test_the_ten_minutes_are_called_advice() -> None:
    """H.870 names no length for a session, so the caution calls its ten minutes our own advice."""
    said = " ".join(HEARING_CAUTION.split())
    assert "every ten minutes; that is our own advice" in said


def _loudness(rendering: Rendering) -> tuple[float, float]:
    """Integrated loudness and the loudest 400 ms, LUFS, as pyloudnorm measures them."""
    meter = pyloudnorm.Meter(rendering.sample_rate)
    whole = meter.integrated_loudness(np.concatenate(list(rendering)) / 32768)
    return whole, max(meter.blockwise_loudness)


@pytest.mark.parametrize("soundfont", [find_soundfont(), bundled_soundfont()], ids=lambda p: p.name)
def test_how_much_louder_songs_are_than_the_chord(soundfont: Path) -> None:
    """Songs pass the chord that the volume is set with by no more than the page says."""
    page = files("trainer.web").joinpath("templates", "hearing.html").read_text(encoding="utf-8")
    told = re.search(
        r"about (\d) decibels louder than this chord, with moments up to (\d) decibels\s+louder",
        page,
    )
    assert told is not None
    synth = Synth(soundfont)
    chord = _loudness(synth.render(level_check_chord()))
    styles = list(STYLES)
    songs = [
        _loudness(exercise(number, synth, styles[number % len(styles)], BANDS[number % 3]))
        for number in (0, 1, 2, 5)
    ]
    synth.close()
    whole, moment = (max(song[of] for song in songs) - chord[of] for of in (0, 1))
    assert whole < float(told[1]) + 0.5
    assert 0 < moment < float(told[2]) + 0.5
