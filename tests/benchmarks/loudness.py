"""Loudness of random exercises, as pyloudnorm measures it: all styles, bands and soundfonts.

`python -m tests.benchmarks.loudness --exercises 300` prints its rows alone. Of each exercise also:
whether a sample is clipped, how loud it starts and ends, and whether a note is cut at the end.
"""

from __future__ import annotations

import argparse
import random
from dataclasses import dataclass, replace
from itertools import product
from statistics import mean

import numpy as np
import pyloudnorm
from numpy.typing import NDArray
from scipy.signal import resample_poly

from tests.benchmarks import Row, at_least, at_most, seen
from tests.benchmarks.__main__ import table
from tests.generate.everyday import EVERYDAY
from trainer.band import BANDS, Mix, arrange
from trainer.generate import STYLES, generate
from trainer.sound import Rendering, Synth, find_soundfont
from trainer.sound.soundfonts import bundled_soundfont

EXERCISES = 300
TARGET_LUFS, WITHIN_LU = -18.0, 1.5
PEAK_DBTP = -1.0
SIZES = ("phrase", "section", "phrase", "section", "song")
EDGE_S = 0.005
# What a listener hears as silence beside −18 LUFS.
SILENT_DBFS = -60.0
Samples = NDArray[np.float64]


@dataclass(frozen=True)
class Measured:
    """One exercise's audio."""

    lufs: float
    peak_dbtp: float
    clipped: int
    first_dbfs: float
    last_dbfs: float
    cut_s: float


def exercise(number: int, synth: Synth, style: str, band: str) -> Rendering:
    """A random exercise: style, band and soundfont given, the rest drawn."""
    rng = random.Random(f"loudness {number}")
    size = SIZES[number % len(SIZES)]
    chart = generate(replace(EVERYDAY, styles=(style,), style_weights=(), size=size), rng)
    mix = Mix(rng.choice((0.0, 0.0, 3.0, 6.0)), rng.random() < 0.3, rng.random() < 0.9)
    return synth.render(arrange(chart, rng=rng, band=band, mix=mix, count_off=rng.random() < 0.8))


def _dbfs(samples: Samples) -> float:
    return float(20 * np.log10(np.abs(samples).max() + 1e-9))


def _true_peak(samples: Samples) -> float:
    """Peak of the signal at four times the sample rate (ITU-R BS.1770-4, annex 2), dBTP."""
    pieces = np.array_split(np.arange(len(samples)), -(-len(samples) // 400_000))
    peak = 0.0
    for piece in pieces:
        first, last = max(0, piece[0] - 256), piece[-1] + 257
        peak = max(peak, float(np.abs(resample_poly(samples[first:last], 4, 1, axis=0)).max()))
    return 20 * np.log10(peak)


def measured(rendering: Rendering) -> Measured:
    """Render an exercise and measure it; a note is cut by so much as it lasts beyond the end."""
    whole = np.concatenate(list(rendering))
    samples = whole / 32768.0
    edge = round(EDGE_S * rendering.sample_rate)
    arrangement = rendering.arrangement
    last = max(
        note.start_quarters + note.length_quarters
        for part in arrangement.parts
        for note in part.notes
    )
    return Measured(
        lufs=pyloudnorm.Meter(rendering.sample_rate).integrated_loudness(samples),
        peak_dbtp=_true_peak(samples),
        clipped=int(np.sum(np.abs(whole.astype(np.int32)) >= 32767)),
        first_dbfs=_dbfs(samples[:1]),
        last_dbfs=_dbfs(samples[-edge:]),
        cut_s=max(0.0, arrangement.sounding_s(last) - rendering.duration_s),
    )


def run(exercises: int = EXERCISES) -> list[Row]:
    """Rows over so many exercises."""
    fonts = dict.fromkeys([bundled_soundfont().resolve(), find_soundfont().resolve()])
    synths = [Synth(path) for path in fonts]
    turns = list(product(STYLES, BANDS, synths))
    # Mixed, so that a few exercises are as varied as many.
    random.Random(1).shuffle(turns)
    found = []
    for number in range(exercises):
        style, band, synth = turns[number % len(turns)]
        found.append(measured(exercise(number, synth, style, band)))
    for synth in synths:
        synth.close()
    return _rows(found)


def _rows(found: list[Measured]) -> list[Row]:
    loud = [one.lufs for one in found]
    peaks = [one.peak_dbtp for one in found]
    return [
        at_least(
            f"loudness of {len(found)} exercises, least", min(loud), TARGET_LUFS - WITHIN_LU, "LUFS"
        ),
        seen("… mean", mean(loud), "LUFS"),
        at_most("… most", max(loud), TARGET_LUFS + WITHIN_LU, "LUFS"),
        seen("… standard deviation", float(np.std(loud)), "LU"),
        at_most("true peak, highest", max(peaks), PEAK_DBTP, "dBTP"),
        seen("… mean", mean(peaks), "dBTP"),
        at_most("samples clipped", sum(one.clipped for one in found), 0, ""),
        at_most("first sample, loudest", max(one.first_dbfs for one in found), SILENT_DBFS, "dBFS"),
        at_most("last 5 ms, loudest", max(one.last_dbfs for one in found), SILENT_DBFS, "dBFS"),
        at_most("longest note beyond the end", max(one.cut_s for one in found), 0, "s"),
    ]


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--exercises", type=int, default=EXERCISES)
    print(table(run(asked.parse_args().exercises)))
