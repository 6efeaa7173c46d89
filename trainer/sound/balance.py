"""How loud an arrangement will be, foretold from its notes.

Each note that occurs (its program, pitch to a third of an octave, velocity to a layer) is played
once by itself and its K-weighted energy (ITU-R BS.1770-4) written down for each tenth of a second.
Notes are taken as uncorrelated, so their energies add; the sum goes through the standard's
gating. Tables are kept for as long as the program runs.
"""

from __future__ import annotations

import threading
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from trainer.sound.engine import PERIOD, Engine
from trainer.sound.gating import gated_loudness
from trainer.sound.score import Played, Score

__all__ = ["TARGET_LUFS", "Balance"]

TARGET_LUFS = -18.0
MOST_GAIN_DB = 30.0

_RATE = 44100
_PERIODS_IN_BIN = 69
_BIN = _PERIODS_IN_BIN * PERIOD
_HELD_BINS, _RELEASED_BINS = 10, 4
_LONGEST_BINS = 80
_PITCH_STEP = 4
_VELOCITIES = (40, 64, 88, 112)
_SOUND_OFF = 120

Energies = NDArray[np.float64]


class _Kind(NamedTuple):
    """Notes that are measured as one."""

    program: int
    is_drum: bool
    pitch: int
    velocity: int


class _Energy(NamedTuple):
    """Mean squares, K-weighted, both channels added, for each bin: held, and after the end as a
    share of the last one held."""

    held: Energies
    released: Energies


class Balance:
    """The gains that make arrangements equally loud with one soundfont."""

    def __init__(self, soundfont: Path) -> None:
        self._soundfont = soundfont
        self._known: dict[_Kind, _Energy] = {}
        self._lock = threading.Lock()

    def gain(self, score: Score) -> float:
        """The factor that brings a score to −18 LUFS, as far as can be foretold; 1 for silence."""
        lufs = self.foretell(score)
        if lufs == -np.inf:
            return 1.0
        # Rounded, so that the last bit of a measurement cannot change a rendering.
        decibels = round(min(TARGET_LUFS - lufs, MOST_GAIN_DB), 2)
        return float(10 ** (decibels / 20))

    def foretell(self, score: Score) -> float:
        """Integrated loudness of a score before any gain, LUFS; −inf if it has no notes."""
        groups: dict[_Kind, list[Played]] = {}
        for note in score.notes:
            groups.setdefault(_kind(score, note), []).append(note)
        if not groups:
            return float(-np.inf)
        with self._lock:
            missing = sorted(kind for kind in groups if kind not in self._known)
            if missing:
                self._known |= _measured(self._soundfont, missing)
        last = max(note.end for note in score.notes)
        per_bin = score.periods_per_second / 10
        total = np.zeros(int(last / per_bin) + 1 + _LONGEST_BINS + _RELEASED_BINS)
        for kind, notes in groups.items():
            _add(total, score, notes, kind, self._known[kind], per_bin)
        tenths = total[: int(last / per_bin) + 10]
        return gated_loudness(np.convolve(tenths, np.full(4, 0.25), mode="valid"))


def _kind(score: Score, note: Played) -> _Kind:
    part = score.parts[note.channel]
    pitch = note.pitch if part.is_drum else round(note.pitch / _PITCH_STEP) * _PITCH_STEP
    velocity = min(_VELOCITIES, key=lambda layer: abs(layer - note.velocity))
    return _Kind(part.program, part.is_drum, min(pitch, 127), velocity)


def _add(
    total: Energies,
    score: Score,
    notes: list[Played],
    kind: _Kind,
    energy: _Energy,
    per_bin: float,
) -> None:
    """Add the energies of notes of one kind to the bins."""
    # Default modulators of SoundFont 2.04, section 8.4: velocity and channel volume both
    # attenuate by 40 dB a decade, so energy goes with their fourth powers.
    power = np.array([(note.velocity / kind.velocity * score.parts[note.channel].level / 127) ** 4
                      for note in notes])
    first = np.array([note.start for note in notes]) / per_bin
    length = np.array([max(note.end - note.start, 1) for note in notes]) / per_bin
    if kind.is_drum:
        length = np.full(len(notes), float(_HELD_BINS))
    longest = min(_LONGEST_BINS, int(length.max()) + 2)
    held = _extended(energy.held, longest)
    for step in range(longest):
        share = np.clip(length - step, 0.0, 1.0)
        np.add.at(total, first.astype(int) + step, power * share * held[step])
    final = held[np.minimum(length.astype(int), longest - 1)]
    for step, part in enumerate(energy.released):
        place = (first + np.minimum(length, longest)).astype(int) + step
        np.add.at(total, place, power * final * part)


def _extended(held: Energies, bins: int) -> Energies:
    """Held energies carried on at the rate of their last half."""
    if bins <= len(held):
        return held
    half = len(held) // 2
    before, after = held[:half].sum(), held[half:].sum()
    rate = min(1.0, after / before) ** (1 / half) if before > 0 else 0.0
    return np.concatenate((held, held[-1] * rate ** np.arange(1, bins - len(held) + 1)))


def _measured(soundfont: Path, kinds: Iterable[_Kind]) -> dict[_Kind, _Energy]:
    """Play each kind of note by itself and measure it."""
    engine = Engine(soundfont, _RATE, reverb=False)
    try:
        return {kind: _measure(engine, kind) for kind in kinds}
    finally:
        engine.close()


def _measure(engine: Engine, kind: _Kind) -> _Energy:
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
    """K-weighting as a power gain for each frequency of a bin's transform.

    From the two filters tabled for 48 kHz in ITU-R BS.1770-4, annex 1, tables 1 and 2.
    """
    shelf = ((1.53512485958697, -2.69169618940638, 1.19839281085285),
             (1.0, -1.69065929318241, 0.73248077421585))
    high_pass = ((1.0, -2.0, 1.0), (1.0, -1.99004745483398, 0.99007225036621))
    frequencies = np.fft.rfftfreq(_BIN, 1 / _RATE)
    z = np.exp(-2j * np.pi * frequencies / 48000)
    response = np.ones_like(z)
    for over, under in (shelf, high_pass):
        response *= np.polyval(over[::-1], z) / np.polyval(under[::-1], z)
    weights: Energies = np.abs(response) ** 2
    return weights
