"""A listener that sees no notes: librosa's chroma and beat tracker, and the ears of the tests.

It is told where the bars lie, as a learner who counts along knows, and nothing else.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tests.band.ears import RATE, SPOKEN_S, Sound, bass_pitch_class
from tests.generate.everyday import EVERYDAY
from trainer.band import BANDS, Arrangement, arrange
from trainer.chart import Chart, Chord, Feel, PlacedBar
from trainer.chart.chords import bass_pitch_class as written_bass
from trainer.chart.chords import chord_intervals, root_pitch_class
from trainer.generate import STYLES, generate
from trainer.sound import Synth

__all__ = ["Listened", "Listener", "triads"]

HOP = 1024
MAJOR, MINOR = (0, 4, 7), (0, 3, 7)


def triads() -> NDArray[np.float64]:
    """Plain templates: the 12 major triads, then the 12 minor ones, (24, 12), of length one."""
    found = np.zeros((24, 12))
    for root in range(12):
        for place, steps in ((root, MAJOR), (root + 12, MINOR)):
            found[place, [(root + step) % 12 for step in steps]] = 1.0
    return found / np.sqrt(3.0)


def _triad(chord: Chord, key: int) -> int | None:
    """A chord's place among the templates; None if it holds neither of the two triads."""
    steps = chord_intervals(chord)[:3]
    if steps not in (MAJOR, MINOR):
        return None
    return root_pitch_class(chord, key) + (12 if steps == MINOR else 0)


@dataclass(frozen=True)
class Listened:
    """What was heard rightly and wrongly: counts of bars, of slash basses, and beat F-measures."""

    chords: Counter[bool]
    basses: Counter[bool]
    beats: tuple[float, ...]

    def __add__(self, other: Listened) -> Listened:
        return Listened(
            self.chords + other.chords, self.basses + other.basses, self.beats + other.beats
        )

    @property
    def chord_share(self) -> float:
        """Share of one-chord bars whose root and quality were recovered."""
        return self.chords[True] / self.chords.total()

    @property
    def bass_share(self) -> float:
        """Share of slash chords whose bass was found."""
        return self.basses[True] / self.basses.total()


NOTHING = Listened(Counter(), Counter(), ())


class Listener:
    """Plays songs of mixed styles with every band and soundfont in turn, and listens to them."""

    def __init__(self, soundfonts: tuple[Path, ...], size: str = "song") -> None:
        self._synths = [Synth(path) for path in soundfonts]
        self._size = size

    def song(self, number: int) -> tuple[str, Chart]:
        """The style and the chart of a song; the styles come round in turn."""
        style = list(STYLES)[number % len(STYLES)]
        settings = replace(EVERYDAY, styles=(style,), style_weights=(), size=self._size)
        return style, generate(settings, random.Random(f"song {number}"))

    def band(self, number: int) -> tuple[str, int]:
        """The band that plays a song and the place of its soundfont: every pair in turn."""
        turn = number // len(STYLES) + number
        return BANDS[turn % len(BANDS)], turn // len(BANDS) % len(self._synths)

    def listen(self, number: int, beats: bool = True) -> Listened:
        """Play a song and listen to it, to its beats too if asked."""
        _, chart = self.song(number)
        band, place = self.band(number)
        played = arrange(chart, rng=random.Random(number), band=band)
        rendering = self._synths[place].render(played, RATE)
        sound = Sound.of(rendering, rendering.bar_times_s)
        tracked = beats and chart.feel is Feel.STRAIGHT
        agreed = (_beats_agree(chart, played, sound),) if tracked else ()
        return Listened(_hear_chords(chart, sound), _hear_basses(chart, sound), agreed)

    def close(self) -> None:
        """Let go of the soundfonts."""
        for synth in self._synths:
            synth.close()


def _key(chart: Chart, place: PlacedBar) -> int:
    return (chart.key.pitch_class + place.key_shift) % 12


def _hear_chords(chart: Chart, sound: Sound) -> Counter[bool]:
    """Which one-chord bars are recovered by the template that is most like their mean chroma."""
    import librosa

    samples = sound.samples.astype(np.float32)
    chroma = librosa.feature.chroma_cqt(
        y=samples, sr=RATE, hop_length=HOP, fmin=librosa.note_to_hz("C2"), n_octaves=5, tuning=0.0
    )
    templates, heard = triads(), Counter[bool]()
    for place, (start, end) in zip(chart.placed_bars(), sound.bars, strict=True):
        chord = place.bar.events[0].chord
        written = None if chord is None else _triad(chord, _key(chart, place))
        if written is None or len(place.bar.events) > 1:
            continue
        inside = chroma[:, round(start * RATE / HOP) : round(end * RATE / HOP)]
        heard[bool(np.argmax(templates @ inside.mean(axis=1)) == written)] += 1
    return heard


def _slashes(chart: Chart) -> Iterator[tuple[int, Chord, int, float, float]]:
    """Each slash chord: place of its bar, chord, key, start and length as shares of the bar."""
    for number, place in enumerate(chart.placed_bars()):
        beats = place.bar.meter.beats
        for at, event in zip(place.bar.starts(), place.bar.events, strict=True):
            if event.chord is not None and event.chord.bass is not None:
                key = _key(chart, place)
                yield number, event.chord, key, float(at) / beats, float(event.beats) / beats


def _hear_basses(chart: Chart, sound: Sound) -> Counter[bool]:
    """Which slash chords' basses are found in their first pulse."""
    heard = Counter[bool]()
    for number, chord, key, start, length in _slashes(chart):
        first, last = sound.bars[number]
        at = first + start * (last - first)
        pulse = float(chart.meter.pulse_quarters / chart.meter.quarters) * (last - first)
        end = at + min(length * (last - first), pulse)
        found = bass_pitch_class(sound.cut(at + SPOKEN_S, end))
        heard[found == written_bass(chord, key)] += 1
    return heard


def _beats_agree(chart: Chart, played: Arrangement, sound: Sound) -> float:
    """F-measure of librosa's beats against ours, ±70 ms, from the fifth second on (Davies et al.
    2009, as mir_eval has it); the tracker is told the tempo, as by a count-off."""
    import librosa
    import mir_eval

    pulse = float(chart.meter.pulse_quarters)
    count = np.arange(0.0, played.count_off_quarters - 1e-6, pulse)
    pulses = [
        np.arange(bar.start_quarters, bar.start_quarters + bar.length_quarters - 1e-6, pulse)
        for bar in played.bars
    ]
    ours = played.room_s + np.concatenate([count, *pulses]) * played.tempo_map.seconds_per_quarter
    _, found = librosa.beat.beat_track(
        y=sound.samples.astype(np.float32), sr=RATE, units="time", start_bpm=chart.tempo, trim=False
    )
    trimmed = mir_eval.beat.trim_beats(ours), mir_eval.beat.trim_beats(found)
    return float(mir_eval.beat.f_measure(*trimmed))
