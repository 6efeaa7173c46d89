"""The predicted loudness of an arrangement, from its notes.

Each note that occurs (its program, its pitch to a third of an octave, its velocity to one of six
layers) is played once by itself, and its K-weighted energy (ITU-R BS.1770-4) is kept for each tenth
of a second. Notes are taken as uncorrelated, so their energies add up; the sum goes through the
gating of the standard. The measurements are kept for as long as the program runs.
"""

from __future__ import annotations

import threading
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from trainer.sound.bs1770 import gated_loudness, k_weighting_response
from trainer.sound.engine import PERIOD, SynthEngine
from trainer.sound.sequence import SynthSequence

__all__ = ["TARGET_LUFS", "LoudnessPredictor"]

TARGET_LUFS = -18.0
MOST_GAIN_DB = 40.0

_RATE = 44100
_PERIODS_IN_BIN = 69
_BIN = _PERIODS_IN_BIN * PERIOD
_HELD_BINS, _RELEASED_BINS = 10, 4
_LONGEST_BINS = 80
_PITCH_STEP = 4
# Soundfonts change samples between such layers: the jazz guitar of FluidR3_GM grows by 7 dB from
# velocity 64 to 73.
_VELOCITIES = (40, 60, 68, 76, 88, 112)
# For each pitch and velocity 0–127, what it is measured as.
_REGION = np.array([min(round(pitch / _PITCH_STEP) * _PITCH_STEP, 127) for pitch in range(128)])
_LAYER = np.array(
    [min(_VELOCITIES, key=lambda layer: abs(layer - velocity)) for velocity in range(128)]
)
_SOUND_OFF = 120

Energies = NDArray[np.float64]


class _Kind(NamedTuple):
    """The properties of notes that are measured as one."""

    program: int
    is_drum: bool
    controls: tuple[tuple[int, int], ...]
    pitch: int
    velocity: int


class _Energy(NamedTuple):
    """The energy of one kind of note: K-weighted mean squares, both channels added, for each bin.

    `held` is while the note is held, `released` after its end as a share of the last held bin.
    """

    held: Energies
    released: Energies


class LoudnessPredictor:
    """Predicts the loudness of sequences played with one soundfont."""

    def __init__(self, soundfont: Path) -> None:
        self._soundfont = soundfont
        self._known: dict[_Kind, _Energy] = {}
        # Controls stay as they are set, so each set of them has an engine of its own.
        self._engines: dict[tuple[tuple[int, int], ...], SynthEngine] = {}
        self._lock = threading.Lock()

    def close(self) -> None:
        """Free the synths that notes are measured with."""
        with self._lock:
            while self._engines:
                self._engines.popitem()[1].close()

    def gain(self, sequence: SynthSequence) -> float:
        """The factor that brings a sequence to −18 LUFS as predicted; 1 for silence."""
        lufs = self.predicted_lufs(sequence)
        if lufs == -np.inf:
            return 1.0
        # Rounded, so that the last bit of a measurement cannot change a rendering.
        decibels = round(min(TARGET_LUFS - lufs, MOST_GAIN_DB), 2)
        return float(10 ** (decibels / 20))

    def predicted_lufs(self, sequence: SynthSequence) -> float:
        """The integrated loudness of a sequence before any gain, LUFS; −inf without notes."""
        if not len(sequence.note_rows):
            return float(-np.inf)
        kinds, of_note = _sorted_into_kinds(sequence)
        with self._lock:
            for kind in kinds:
                if kind not in self._known:
                    self._known[kind] = _measure(self._engine_with(kind.controls), kind)
        measured_at = np.array([kind.velocity for kind in kinds])[of_note]
        start, end, power = _as_arrays(sequence, measured_at)
        per_bin = sequence.periods_per_second / 10
        places, energies = [], []
        for number, kind in enumerate(kinds):
            mine = of_note == number
            length = (end - start)[mine] / per_bin
            if kind.is_drum:
                length[:] = _HELD_BINS
            place, energy = _spread(self._known[kind], length)
            places.append(place + (start[mine] / per_bin).astype(int)[:, None])
            energies.append(energy * power[mine][:, None])
        total = np.bincount(
            np.concatenate([place.ravel() for place in places]),
            np.concatenate([energy.ravel() for energy in energies]),
        )
        tenths = total[: int(end.max() / per_bin) + 10]
        return gated_loudness(np.convolve(tenths, np.full(4, 0.25), mode="valid"))

    def _engine_with(self, controls: tuple[tuple[int, int], ...]) -> SynthEngine:
        """The synth that measures notes under some controller settings."""
        if controls not in self._engines:
            self._engines[controls] = SynthEngine(self._soundfont, _RATE, reverb=False)
            for number, value in controls:
                self._engines[controls].control(0, number, value)
        return self._engines[controls]


def _sorted_into_kinds(sequence: SynthSequence) -> tuple[list[_Kind], NDArray[np.int64]]:
    """The kinds of notes in a sequence, and for each note the number of its kind."""
    numbers: dict[_Kind, int] = {}
    _, _, channels, pitches, velocities = sequence.note_rows.T
    is_drum = np.array([part.is_drum for part in sequence.parts])[channels]
    regions, layers = np.where(is_drum, pitches, _REGION[pitches]), _LAYER[velocities]
    coded = (channels * 128 + regions) * 128 + layers
    codes, firsts, of_code = np.unique(coded, return_index=True, return_inverse=True)
    number_of = np.empty(len(codes), np.int64)
    # In the order in which they occur, in which they are measured and added up.
    for place in np.argsort(firsts).tolist():
        first = int(firsts[place])
        part = sequence.parts[int(channels[first])]
        played = int(regions[first]), int(layers[first])
        kind = _Kind(part.program, part.is_drum, part.controls, *played)
        number_of[place] = numbers.setdefault(kind, len(numbers))
    return list(numbers), number_of[of_code]


def _as_arrays(
    sequence: SynthSequence, measured_at: NDArray[np.int64]
) -> tuple[Energies, Energies, Energies]:
    """Start and end of each note in periods, and its energy as a multiple of the measured one."""
    notes = sequence.note_rows.astype(np.float64)
    levels = np.array([part.level for part in sequence.parts])[notes[:, 2].astype(int)]
    # Default modulators of SoundFont 2.04, section 8.4: velocity and channel volume both
    # attenuate by 40 dB a decade, so energy goes with their fourth powers.
    power = (notes[:, 4] / measured_at * levels / 127) ** 4
    return notes[:, 0], notes[:, 1], power


def _spread(energy: _Energy, length: Energies) -> tuple[NDArray[np.int64], Energies]:
    """The energies of notes by bin, (notes, bins), and the number of each of these bins.

    `length` is how long each note is held, in bins.
    """
    length = np.minimum(length, _LONGEST_BINS)
    longest = int(length.max()) + 1
    held = _extended(energy.held, longest)
    steps = np.arange(longest)
    sounding = np.clip(length[:, None] - steps, 0.0, 1.0) * held[:longest]
    ended = length.astype(int)
    ringing = held[np.minimum(ended, longest - 1)][:, None] * energy.released
    places = np.concatenate(
        (np.broadcast_to(steps, sounding.shape), ended[:, None] + np.arange(_RELEASED_BINS)), axis=1
    )
    return places, np.concatenate((sounding, ringing), axis=1)


def _extended(held: Energies, bins: int) -> Energies:
    """Held energies continued to `bins` bins, falling as fast as in their last half."""
    if bins <= len(held):
        return held
    half = len(held) // 2
    before, after = held[:half].sum(), held[half:].sum()
    rate = min(1.0, after / before) ** (1 / half) if before > 0 else 0.0
    return np.concatenate((held, held[-1] * rate ** np.arange(1, bins - len(held) + 1)))


def _measure(engine: SynthEngine, kind: _Kind) -> _Energy:
    held = np.zeros((_HELD_BINS * _BIN, 2), np.float32)
    released = np.zeros((_RELEASED_BINS * _BIN, 2), np.float32)
    engine.select(0, kind.program, kind.is_drum)
    engine.control(0, 7, 127)
    engine.note_on(0, kind.pitch, kind.velocity)
    # A voice's first period ramps from its former note's gains: not measured.
    engine.render(held, 0, PERIOD)
    engine.render(held, 0, len(held))
    engine.note_off(0, kind.pitch)
    engine.render(released, 0, len(released))
    engine.control(0, _SOUND_OFF, 0)
    engine.render(np.zeros((PERIOD, 2), np.float32), 0, PERIOD)
    sounding = _energies(held)
    return _Energy(sounding, _energies(released) / max(sounding[-1], 1e-12))


def _energies(samples: NDArray[np.float32]) -> Energies:
    """K-weighted mean squares of each bin, both channels added, (bins,)."""
    bins = samples.reshape(-1, _BIN, 2)
    power = np.abs(np.fft.rfft(bins, axis=1)) ** 2
    weighted = (power.sum(axis=2) * _weights()).sum(axis=1)
    energies: Energies = 2 * weighted / _BIN**2
    return energies


@cache
def _weights() -> Energies:
    """K-weighting as a power gain for each frequency of a bin's transform, (frequencies,)."""
    frequencies_hz = np.fft.rfftfreq(_BIN, 1 / _RATE).astype(np.float64)
    weights: Energies = np.abs(k_weighting_response(frequencies_hz)) ** 2
    return weights
