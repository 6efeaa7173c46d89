"""A rendering: audio whose length and bar times are known before a note of it is made."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator
from contextlib import AbstractContextManager, closing
from dataclasses import dataclass, field
from functools import cached_property
from math import ceil

import numpy as np
from numpy.typing import NDArray

from trainer.band.parts import Arrangement
from trainer.sound.engine import PERIOD, Engine
from trainer.sound.limiter import CHUNK, limited
from trainer.sound.score import Score, play

__all__ = ["Rendering"]

# The last notes ring out for this long after the last bar.
TAIL_S = 3.0
FADE_S = 1.5
Block = NDArray[np.int16]


@dataclass(frozen=True)
class Rendering:
    """An arrangement as audio: 16-bit stereo, made while it is iterated.

    Attributes
    ----------
    frames : length; the arrangement and 3 s in which it rings out and fades.
    sample_rate : frames a second.
    bar_times_s : start and end of each bar of the chart, seconds from the first frame.

    Iterating yields int16 arrays (n, 2), `frames` rows in all. Each iteration has a synth of its
    own, so several may run at once in several threads, and all give the same bytes.
    """

    arrangement: Arrangement
    sample_rate: int
    new_engine: Callable[[int, int], AbstractContextManager[Engine]] = field(repr=False)
    gain_of: Callable[[Score], float] = field(repr=False)

    @cached_property
    def frames(self) -> int:
        """Length in frames."""
        length_s = self.arrangement.clock.seconds(self.arrangement.length_quarters)
        return ceil(length_s * self.sample_rate) + round(TAIL_S * self.sample_rate)

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.frames / self.sample_rate

    @cached_property
    def bar_times_s(self) -> tuple[tuple[float, float], ...]:
        """Start and end of each bar in seconds."""
        seconds = self.arrangement.clock.seconds
        return tuple(
            (seconds(bar.start_quarters), seconds(bar.start_quarters + bar.length_quarters))
            for bar in self.arrangement.bars
        )

    @cached_property
    def score(self) -> Score:
        """The notes on the synth's grid."""
        return Score.of(self.arrangement, self.sample_rate)

    @cached_property
    def gain(self) -> float:
        """The factor that brings the whole to −18 LUFS, foretold from the notes."""
        return self.gain_of(self.score)

    def __iter__(self) -> Iterator[Block]:
        return self.blocks()

    def blocks(self, start: int = 0, most: int = CHUNK) -> Iterator[Block]:
        """Audio from frame `start` to the end, in blocks of at most `most` frames.

        Starting in the middle costs no more than the time of the notes that still ring there. It
        gives the same sound as coming from the beginning, but not always the same last bits: how
        a voice's first 64 frames ramp depends on what the synth played before.

        Raises ValueError if `start` is negative or beyond the end, or `most` under 1.
        """
        if not 0 <= start <= self.frames or most < 1:
            raise ValueError(f"frames from {start} in blocks of {most}: expected a start from 0 "
                             f"to {self.frames} and blocks of at least 1")
        return self._blocks(start, most)

    def _blocks(self, start: int, most: int) -> Iterator[Block]:
        at = start - start % CHUNK
        with closing(self._raw(at - CHUNK)) as raw:
            for chunk in limited(raw, self.gain):
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
        """Chunks from frame `at`, straight from the synth; before frame 0 there is silence."""
        if at < 0:
            yield np.zeros((CHUNK, 2), np.float32)
            at = 0
        period = at // PERIOD
        origin = self.score.origin(period)
        with self.new_engine(self.sample_rate, len(self.score.parts)) as engine:
            engine.skip(origin)
            self.score.prepare(engine, origin)
            yield from _chunks(engine, self.score, origin, period, self.frames)


def _chunks(
    engine: Engine, score: Score, origin: int, period: int, frames: int
) -> Iterator[NDArray[np.float32]]:
    """Play from `origin`, yielding chunks from `period` until `frames` are out."""
    # Counting chunks from the origin keeps them on the grid of chunks from frame 0.
    grid = CHUNK // PERIOD
    base = origin - origin % grid
    events = score.events(origin)
    event = next(events, None)
    while base * PERIOD < frames:
        chunk = np.zeros((CHUNK, 2), np.float32)
        at = max(0, (origin - base) * PERIOD)
        while event is not None and event.period < base + grid:
            due = (event.period - base) * PERIOD
            if due > at:
                engine.render(chunk, at, due)
                at = due
            play(engine, event)
            event = next(events, None)
        engine.render(chunk, at, CHUNK)
        if base >= period:
            yield chunk
        base += grid
