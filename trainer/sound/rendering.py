"""Renderings: audio whose length and bar times are known before any of it is made."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator
from contextlib import closing
from dataclasses import dataclass, field
from functools import cached_property
from math import ceil

import numpy as np
from numpy.typing import NDArray

from trainer.band import Arrangement
from trainer.errors import InputError
from trainer.sound.engine import PERIOD
from trainer.sound.limiter import CHUNK, limit_peaks
from trainer.sound.mixing import mix_windows
from trainer.sound.sequence import SynthSequence
from trainer.sound.windows import EngineFactory

__all__ = [
    "MAX_DURATION_S",
    "RENDERING_VERSION",
    "Block",
    "Looped",
    "Rendering",
    "check_duration",
    "check_playing_time",
]

# Raise this number when the same notes give other bytes.
RENDERING_VERSION = 2
# The last notes ring out for this long after the last bar.
TAIL_S = 3.0
FADE_S = 1.5
# A song of the course lasts up to seven minutes. Anything longer than this limit is a mistake in
# the chart or would overload the machine (212 MB as WAV).
MAX_DURATION_S = 20 * 60
# A loop ends after this time; a learner who wants to practise longer plays it again.
MAX_LOOPED_S = 30 * 60
Block = NDArray[np.int16]


@dataclass(frozen=True)
class Rendering:
    """An arrangement as audio: 16-bit stereo, made while it is iterated.

    Attributes
    ----------
    frames : length; the arrangement and 3 s in which it rings out and fades.
    sample_rate : frames a second.
    bar_times_s : start and end of each bar of the chart, seconds from the first frame.

    Iterating yields int16 arrays (n, 2), `frames` rows in all. Each iteration has synths of its
    own, so several may run at once in several threads, and all give the same bytes. While a block
    is waited for, a second thread renders what comes next.
    """

    arrangement: Arrangement
    sample_rate: int
    new_engine: EngineFactory = field(repr=False)
    gain_for: Callable[[SynthSequence], float] = field(repr=False)

    @cached_property
    def frames(self) -> int:
        """Length in frames."""
        return ceil(self.arrangement.length_s * self.sample_rate) + round(TAIL_S * self.sample_rate)

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.frames / self.sample_rate

    @cached_property
    def bar_times_s(self) -> tuple[tuple[float, float], ...]:
        """Start and end of each bar in seconds."""
        return self.arrangement.bar_times_s

    @cached_property
    def sequence(self) -> SynthSequence:
        """The notes as synth events."""
        return SynthSequence.of(self.arrangement, self.sample_rate)

    @cached_property
    def gain(self) -> float:
        """The factor that brings the whole to −18 LUFS by its predicted loudness."""
        return self.gain_for(self.sequence)

    def __iter__(self) -> Iterator[Block]:
        return self.blocks()

    def blocks(self, start: int = 0, most: int = CHUNK) -> Generator[Block]:
        """Audio from frame `start` to the end, in blocks of at most `most` frames.

        The bytes are the same as those of the whole, wherever it starts. To start in the middle,
        the windows that sound there are rendered from their own start: at most 12 s of music and
        what rings from before, unless a note is held for longer.

        Raises ValueError if `start` is negative or beyond the end, or `most` is under 1.
        """
        if not 0 <= start <= self.frames or most < 1:
            raise ValueError(
                f"frames from {start} in blocks of {most}: expected a start from 0 "
                f"to {self.frames} and blocks of at least 1"
            )
        return self._blocks(start, most)

    def _blocks(self, start: int, most: int) -> Generator[Block]:
        at = start - start % CHUNK
        with closing(self._raw(at - CHUNK)) as raw:
            for chunk in limit_peaks(raw, self.gain):
                self._fade(chunk, at)
                whole = np.rint(chunk * 32767.0).astype(np.int16)[: self.frames - at]
                for first in range(max(0, start - at), len(whole), most):
                    yield whole[first : first + most]
                at += CHUNK

    def _fade(self, chunk: NDArray[np.float32], at: int) -> None:
        """Fade the end of the whole into silence, in place."""
        fade = round(FADE_S * self.sample_rate)
        if at + CHUNK > self.frames - fade:
            left = np.clip((self.frames - 1 - at - np.arange(CHUNK)) / fade, 0, 1)
            chunk *= (0.5 - 0.5 * np.cos(np.pi * left))[:, None].astype(np.float32)

    def _raw(self, at: int) -> Generator[NDArray[np.float32]]:
        """Chunks from frame `at`, as the synths render them; before frame 0 there is silence."""
        if at < 0:
            yield np.zeros((CHUNK, 2), np.float32)
            at = 0
        yield from mix_windows(self.sequence, at // PERIOD, self.frames, self.new_engine)


def check_duration(arrangement: Arrangement) -> None:
    """Raise InputError for an arrangement that lasts longer than `MAX_DURATION_S`."""
    check_playing_time(arrangement.length_s)


def check_playing_time(length_s: float) -> None:
    """Raise InputError for a song that plays longer than `MAX_DURATION_S`, with what to do."""
    if length_s <= MAX_DURATION_S:
        return
    minutes = ceil(length_s / 60)
    found = f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"
    raise InputError(
        f"found a chart that plays for {found}, expected at most {MAX_DURATION_S // 60} min of "
        "sound: play a part of it, or check its tempo, meter and number of bars"
    )


@dataclass(frozen=True)
class Looped:
    """A rendering from `start_s` to `end_s` seconds, over and over for half an hour at most.

    It is played as a `Rendering` is: iterating yields int16 arrays (n, 2), `frames` rows in all.
    """

    rendering: Rendering
    start_s: float
    end_s: float

    @property
    def sample_rate(self) -> int:
        """Frames a second."""
        return self.rendering.sample_rate

    @cached_property
    def loop_frames(self) -> int:
        """Length of one turn in frames."""
        end = min(round(self.end_s * self.sample_rate), self.rendering.frames)
        return max(1, end - self._first)

    @property
    def _first(self) -> int:
        return round(self.start_s * self.sample_rate)

    @property
    def turns(self) -> int:
        """How often it is played."""
        return max(1, MAX_LOOPED_S * self.sample_rate // self.loop_frames)

    @property
    def frames(self) -> int:
        """Length of all turns in frames."""
        return self.turns * self.loop_frames

    def __iter__(self) -> Iterator[Block]:
        for _ in range(self.turns):
            left = self.loop_frames
            for block in self.rendering.blocks(self._first):
                yield block[:left]
                left -= len(block)
                if left <= 0:
                    break
