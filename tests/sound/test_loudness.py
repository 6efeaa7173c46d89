from __future__ import annotations

from pathlib import Path

import numpy as np
import pyloudnorm
import pytest
from numpy.typing import NDArray
from scipy.signal import lfilter, resample_poly

from trainer.errors import FileError
from trainer.sound import LoudnessMeter, measure, measure_file
from trainer.sound.limiter import CEILING, CHUNK, limit_peaks
from trainer.sound.prediction import _weights


def sine(
    frequency: float, dbfs: float, seconds: float, rate: int = 48000, phase: float = 0.0
) -> NDArray[np.float64]:
    """A stereo sine of a peak level."""
    time = np.arange(int(seconds * rate)) / rate
    one = 10 ** (dbfs / 20) * np.sin(2 * np.pi * frequency * time + phase)
    return np.stack((one, one), axis=1)


@pytest.mark.parametrize("rate", [44100, 48000])
@pytest.mark.parametrize("dbfs", [-23.0, -33.0])
def test_a_calibrated_sine(rate: int, dbfs: float) -> None:
    """A stereo sine of 997 Hz reads its peak level in LUFS ±0.1 (EBU Tech 3341, cases 1 and 2)."""
    found = measure(sine(997, dbfs, 20, rate), rate)
    assert found.lufs == pytest.approx(dbfs, abs=0.1)


def test_one_channel_is_three_units_lower() -> None:
    """The same sine in one channel only is 3.01 LU lower: energies add (ITU-R BS.1770-4)."""
    both = sine(997, -20, 5)
    found = measure(both[:, 0], 48000).lufs - measure(both, 48000).lufs
    assert found == pytest.approx(-10 * np.log10(2), abs=0.01)


@pytest.mark.parametrize(
    "levels",
    [[(-36, 10), (-23, 60), (-36, 10)], [(-72, 10), (-36, 10), (-23, 60), (-36, 10)]],
    ids=["case 3", "case 4"],
)
def test_quiet_passages_are_gated_out(levels: list[tuple[float, float]]) -> None:
    """Sines at several levels read −23.0 LUFS ±0.1 (EBU Tech 3341, cases 3 and 4; from memory)."""
    sound = np.concatenate([sine(1000, dbfs, seconds) for dbfs, seconds in levels])
    assert measure(sound, 48000).lufs == pytest.approx(-23, abs=0.1)


@pytest.mark.parametrize(
    ("frequency", "phase"), [(12000.0, np.pi / 4), (8000.0, np.pi / 3), (6000.0, np.pi / 8)]
)
def test_the_true_peak_between_frames(frequency: float, phase: float) -> None:
    """Peaks that no frame meets are found, +0.2/−0.4 dB (EBU Tech 3341, cases 15 to 17)."""
    sound = sine(frequency, -6.0, 1.0, phase=phase)
    # Faded, so that switching the tone on is no peak of its own.
    sound *= np.minimum(1, np.minimum(np.arange(48000), np.arange(48000)[::-1]) / 4800)[:, None]
    assert np.abs(sound).max() < 10 ** (-6.05 / 20)
    assert -6.4 <= measure(sound, 48000).true_peak_dbtp <= -5.8


def test_in_pieces_as_at_once() -> None:
    """Measured in pieces, noise of changing level reads what pyloudnorm and scipy read at once."""
    rng = np.random.default_rng(1)
    sound = rng.normal(0, 0.05, (44100 * 47 + 777, 2))
    sound[44100 * 20 : 44100 * 30] *= 0.01
    sound[: 44100 * 5] *= 3
    # Band-limited, as audio is: near half the sample rate interpolators differ by design.
    sound = resample_poly(resample_poly(sound, 1, 2, axis=0), 2, 1, axis=0)[: len(sound)]
    found = measure(sound, 44100)
    peak = 20 * np.log10(np.abs(resample_poly(sound, 4, 1, axis=0)).max())
    reference = pyloudnorm.Meter(44100, filter_class="DeMan").integrated_loudness(sound)
    assert found.lufs == pytest.approx(reference, abs=0.01)
    assert found.true_peak_dbtp == pytest.approx(peak, abs=0.1)


def test_the_filters_of_the_standard() -> None:
    """At 48 kHz the weighting is that of the filters in BS.1770-4, as scipy applies them."""
    sound = np.random.default_rng(4).normal(0, 0.05, (48000 * 12, 2))
    weighted = sound
    for numerator, denominator in (
        ((1.53512485958697, -2.69169618940638, 1.19839281085285),
         (1.0, -1.69065929318241, 0.73248077421585)),
        ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621)),
    ):  # fmt: skip
        weighted = lfilter(numerator, denominator, weighted, axis=0)
    expected = -0.691 + 10 * np.log10((weighted**2).sum(axis=1).mean())
    assert measure(sound, 48000).lufs == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize("rate", [8000, 11025, 22050, 32000, 48000, 96000])
@pytest.mark.parametrize("frames", [0.39, 0.41, 1.0, 1.5, 7.77])
def test_any_rate_and_length(rate: int, frames: float) -> None:
    """At every sample rate and length, pyloudnorm reads the same of a steady tone."""
    sound = sine(997, -20, max(0.4, frames), rate)
    reference = pyloudnorm.Meter(rate, filter_class="DeMan").integrated_loudness(sound)
    assert measure(sound[: int(frames * rate)], rate).lufs == pytest.approx(reference, abs=0.25)


@pytest.mark.parametrize("size", [100, 44100, 10**6])
def test_however_it_comes(size: int) -> None:
    """The size of the blocks makes no difference."""
    sound = np.random.default_rng(2).normal(0, 0.1, (44100 * 25, 2))
    meter = LoudnessMeter(44100)
    for first in range(0, len(sound), size):
        meter.add(sound[first : first + size])
    found, expected = meter.result(), measure(sound, 44100)
    assert found.lufs == pytest.approx(expected.lufs, abs=1e-6)
    assert found.true_peak_dbtp == pytest.approx(expected.true_peak_dbtp, abs=1e-4)


def test_integers_are_full_scale_at_32768() -> None:
    """16-bit audio reads as the same audio in floating point."""
    sound = sine(440, -12, 3)
    as_integers = np.rint(sound * 32768).astype(np.int16)
    assert measure(as_integers, 48000).lufs == pytest.approx(measure(sound, 48000).lufs, abs=0.01)


@pytest.mark.parametrize("frames", [0, 10, 100_000])
def test_silence(frames: int) -> None:
    """Silence of any length, or nothing at all, is −inf on both counts."""
    found = measure(np.zeros((frames, 2), np.int16), 44100)
    assert found.lufs == found.true_peak_dbtp == -np.inf


def test_shorter_than_a_block() -> None:
    """A tenth of a second still has a loudness and a peak."""
    found = measure(sine(997, -20, 0.1), 48000)
    assert -30 < found.lufs < -20
    assert found.true_peak_dbtp == pytest.approx(-20, abs=1)


def test_a_file_that_cannot_be_measured(tmp_path: Path) -> None:
    """A file that is no audio, or not there, is named."""
    broken = tmp_path / "song.wav"
    broken.write_text("not a sound")
    for path in (broken, tmp_path / "none.wav"):
        with pytest.raises(FileError, match=path.name):
            measure_file(path)


def test_the_weighting_of_predicted_loudness() -> None:
    """K-weighting lifts 10 kHz by 4 dB and cuts 20 Hz, as pyloudnorm's does (ITU-R BS.1770-4)."""
    frequencies = np.fft.rfftfreq(69 * 64, 1 / 44100)
    for frequency in (40.0, 100.0, 1000.0, 5000.0, 10000.0):
        level = pyloudnorm.Meter(44100).integrated_loudness(sine(frequency, -20, 5, 44100))
        gain = 10 * np.log10(np.interp(frequency, frequencies, _weights()))
        # A stereo sine of peak −20 dBFS has −20 dB of energy in all, less the standard's 0.691.
        assert level == pytest.approx(-20.691 + gain, abs=0.3)


class TestLimiter:
    def limit(self, sound: NDArray[np.float64], gain: float = 1.0) -> NDArray[np.float32]:
        """Limit a whole sound."""
        chunks = np.pad(sound, ((CHUNK, -len(sound) % CHUNK), (0, 0))).astype(np.float32)
        pieces = np.split(chunks, len(chunks) // CHUNK)
        return np.concatenate(list(limit_peaks(pieces, gain)))[: len(sound)]

    @pytest.mark.parametrize("gain", [0.5, 2.0, 20.0])
    def test_nothing_passes_the_ceiling(self, gain: float) -> None:
        """Bursts at any gain come out at most at −1 dBTP, by scipy's oversampling."""
        rng = np.random.default_rng(3)
        sound = rng.normal(0, 0.2, (44100 * 4, 2)) * (rng.random((44100 * 4, 1)) > 0.999)
        sound += sine(220, -14, 4, 44100)
        sound = resample_poly(resample_poly(sound, 1, 2, axis=0), 2, 1, axis=0)
        peak = np.abs(resample_poly(self.limit(sound, gain), 4, 1, axis=0)).max()
        assert 20 * np.log10(peak) <= -1

    def test_what_is_low_enough_is_left_alone(self) -> None:
        """Sound under the ceiling is only multiplied by the gain."""
        sound = sine(220, -20, 2, 44100)
        assert np.allclose(self.limit(sound, 2.0), 2 * sound, atol=1e-6)

    def test_the_gain_moves_smoothly(self) -> None:
        """One peak turns its surroundings down gradually, and nothing 100 ms away."""
        sound = sine(100, -20, 2, 44100)
        sound[44100] = 4.0
        quiet = self.limit(sound) / np.where(sound == 0, 1, sound)
        gains = np.median(np.abs(quiet[: 44100 * 2 // 100 * 100]).reshape(-1, 100, 2), axis=(1, 2))
        assert gains.min() == pytest.approx(CEILING / 4, rel=0.25)
        assert np.abs(np.diff(gains)).max() < 0.15
        far = np.abs(np.arange(len(sound)) - 44100) > 4410
        assert np.allclose(self.limit(sound)[far], sound[far], atol=1e-6)
