"""A listener that writes down chords from audio alone: no bar lines, no key, no list of chords.

Every frame of a constant-Q spectrum is explained as a sum of notes with falling partials, by
non-negative least squares (Mauch & Dixon 2010, ISMIR, "Approximate note transcription for the
improved identification of difficult chords"). The notes are folded into a chroma of the low
register and one of the rest. A hidden Markov model, whose probabilities are set by hand and not
trained, then finds the likeliest chords and bass notes. The listener is thus known down to its
last number, and says the same on every machine.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

__all__ = ["HOP_S", "RATE", "HeardChord", "transcribe"]

RATE, HOP = 22050, 2048
HOP_S = HOP / RATE
# The spectrum: semitones in three bins from C1 on, over seven octaves.
LOWEST, OCTAVES, BINS = 24, 7, 3
# The notes that are looked for, A0 + 3 to C7, and how fast their partials fall off.
NOTES = np.arange(LOWEST, LOWEST + 72)
# By how much every bin is widened, so that low ones answer within a third of a second and short
# chords are not smeared.
GAMMA_HZ = 4.0
PARTIALS, FALL = 8, 0.7
# Where the bass ends and the chord begins: each note counts by these shares.
BASS_FULL, BASS_NONE = 43, 55
CHORD_NONE, CHORD_FULL = 45, 55
# Chords that are told apart, as steps above the root with how much each is expected.
QUALITIES: dict[str, dict[int, float]] = {
    "maj": {0: 1.0, 4: 1.0, 7: 1.0},
    "min": {0: 1.0, 3: 1.0, 7: 1.0},
    "7": {0: 1.0, 4: 1.0, 7: 0.8, 10: 0.8},
    "maj7": {0: 1.0, 4: 1.0, 7: 0.8, 11: 0.8},
    "min7": {0: 1.0, 3: 1.0, 7: 0.8, 10: 0.8},
    "dim": {0: 1.0, 3: 1.0, 6: 1.0},
    "sus4": {0: 1.0, 5: 1.0, 7: 1.0},
}
LIKELY = {"maj": 0.0, "min": -0.1, "7": -0.5, "maj7": -0.6, "min7": -0.6, "dim": -0.8, "sus4": -0.8}
# In nepers: what a bass costs that is another chord tone, or no chord tone.
OTHER_BASS, FOREIGN_BASS = -0.5, -1.0
# How much each chroma says, and what a change of chord costs. A bass says half as much as it could
# when it is this share as loud as the chords are on average. These numbers were chosen so that the
# listener was about as good as one trained on records, before the band was made clearer for it.
CHORD_WEIGHT, BASS_WEIGHT, CHANGE, QUIET_BASS = 6.0, 2.5, 10.0, 0.4

Samples = NDArray[np.float32]
Array = NDArray[np.float64]


class HeardChord(NamedTuple):
    """A chord that was heard: start and end in seconds, root and bass as pitch classes."""

    start: float
    end: float
    root: int
    quality: str
    bass: int


class _State(NamedTuple):
    root: int
    quality: str
    bass: int


STATES = tuple(
    _State(root, quality, bass) for root in range(12) for quality in QUALITIES for bass in range(12)
)


def transcribe(samples: Samples) -> list[HeardChord]:
    """The chords of a sound at `RATE` in one channel, one after another without gaps."""
    chord, bass = _chromas(_spectrum(samples))
    path = _viterbi(_log_likelihoods(chord, bass))
    found: list[HeardChord] = []
    for frame, number in enumerate(path):
        state, at = STATES[number], frame * HOP_S
        if found and found[-1][2:] == state:
            found[-1] = found[-1]._replace(end=at + HOP_S)
        else:
            found.append(HeardChord(at, at + HOP_S, *state))
    return found


def _spectrum(samples: Samples) -> Array:
    """Magnitudes of the constant-Q spectrum, (frames, bins); drums are left out by medians."""
    import librosa

    spectrum = np.abs(
        librosa.vqt(
            samples,
            sr=RATE,
            hop_length=HOP // 4,
            fmin=librosa.midi_to_hz(LOWEST),
            n_bins=12 * BINS * OCTAVES,
            bins_per_octave=12 * BINS,
            gamma=GAMMA_HZ,
            tuning=0.0,
        )
    )
    # A note lasts, a stroke of a drum does not.
    held = librosa.decompose.hpss(spectrum, kernel_size=(15, 31))[0]
    frames = held.shape[1] // 4
    return np.asarray(held[:, : 4 * frames].reshape(len(held), frames, 4).mean(axis=2).T)


@cache
def _note_profiles() -> Array:
    """The spectrum of each note, (bins, notes)."""
    profiles = np.zeros((12 * BINS * OCTAVES, len(NOTES)))
    bins = np.arange(len(profiles))
    for place, note in enumerate(NOTES):
        for partial in range(1, PARTIALS + 1):
            centre = (note - LOWEST + 12 * np.log2(partial)) * BINS
            hertz = 440.0 * 2 ** ((note - 69) / 12) * partial
            # A bin's width in bins, half a bin at least; the spectrum's root widens the peak.
            width = 1.0 + 0.5 * GAMMA_HZ / (hertz * (2 ** (1 / (12 * BINS)) - 1))
            spread = np.exp(-0.5 * ((bins - centre) / width) ** 2)
            profiles[:, place] += FALL ** (partial - 1) * spread
    return profiles / np.linalg.norm(profiles, axis=0)


def _chromas(spectrum: Array) -> tuple[Array, Array]:
    """How loud each pitch class is in the chord and in the bass, both (frames, 12).

    A chord has the length one. A bass is nearer to one the louder it is against the chords.
    """
    from scipy.optimize import nnls

    profiles = _note_profiles()
    loud = np.sqrt(spectrum)
    floor = np.median(loud)
    notes = np.array([nnls(profiles, np.maximum(frame - floor, 0.0))[0] for frame in loud])
    low = np.clip((BASS_NONE - NOTES) / (BASS_NONE - BASS_FULL), 0.0, 1.0)
    high = np.clip((NOTES - CHORD_NONE) / (CHORD_FULL - CHORD_NONE), 0.0, 1.0)
    chord, bass = _folded(notes * high), _folded(notes * low)
    loud_chord, loud_bass = (np.linalg.norm(each, axis=1, keepdims=True) for each in (chord, bass))
    return (
        chord / np.maximum(loud_chord, 1e-9),
        bass / np.maximum(loud_bass + QUIET_BASS * loud_chord.mean(), 1e-9),
    )


def _folded(notes: Array) -> Array:
    """Notes folded into pitch classes."""
    chroma = np.zeros((len(notes), 12))
    for place, note in enumerate(NOTES):
        chroma[:, note % 12] += notes[:, place]
    return chroma


@cache
def _templates() -> tuple[Array, Array, Array]:
    """For each state its chord, (states, 12), its bass, and how likely it is beforehand."""
    chords = np.zeros((len(STATES), 12))
    basses = np.zeros((len(STATES), 12))
    prior = np.zeros(len(STATES))
    for place, (root, quality, bass) in enumerate(STATES):
        for step, weight in QUALITIES[quality].items():
            chords[place, (root + step) % 12] = weight
        basses[place, bass] = 1.0
        steps = QUALITIES[quality]
        of_bass = 0.0 if bass == root else OTHER_BASS
        if (bass - root) % 12 not in steps:
            of_bass = FOREIGN_BASS
        prior[place] = LIKELY[quality] + of_bass
    return chords / np.linalg.norm(chords, axis=1, keepdims=True), basses, prior


def _log_likelihoods(chord: Array, bass: Array) -> Array:
    """How well each state explains each frame, (frames, states)."""
    chords, basses, prior = _templates()
    return CHORD_WEIGHT * chord @ chords.T + BASS_WEIGHT * bass @ basses.T + prior


def _viterbi(scores: Array) -> NDArray[np.int64]:
    """The best path where every change costs the same."""
    best = scores[0].copy()
    came_from = np.zeros(scores.shape, np.int64)
    stay = np.arange(scores.shape[1])
    for frame in range(1, len(scores)):
        top = int(np.argmax(best))
        jumped = best[top] - CHANGE > best
        came_from[frame] = np.where(jumped, top, stay)
        best = np.where(jumped, best[top] - CHANGE, best) + scores[frame]
    path = np.empty(len(scores), np.int64)
    path[-1] = int(np.argmax(best))
    for frame in range(len(scores) - 1, 0, -1):
        path[frame - 1] = came_from[frame, path[frame]]
    return path
