"""A rendering that is played again and again, as bars are practised."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from trainer.sound.rendering import Block, Rendering

__all__ = ["Looped"]

# Whoever practises for longer plays it again.
LONGEST_S = 30 * 60


@dataclass(frozen=True)
class Looped:
    """The first `end_s` seconds of a rendering, over and over for half an hour at most.

    It is played as a `Rendering` is: iterating yields int16 arrays (n, 2), `frames` rows in all.
    """

    rendering: Rendering
    end_s: float

    @property
    def sample_rate(self) -> int:
        """Frames a second."""
        return self.rendering.sample_rate

    @cached_property
    def loop_frames(self) -> int:
        """Length of one turn in frames."""
        return min(max(1, round(self.end_s * self.sample_rate)), self.rendering.frames)

    @property
    def turns(self) -> int:
        """How often it is played."""
        return max(1, LONGEST_S * self.sample_rate // self.loop_frames)

    @property
    def frames(self) -> int:
        """Length of all turns in frames."""
        return self.turns * self.loop_frames

    def __iter__(self) -> Iterator[Block]:
        for _ in range(self.turns):
            left = self.loop_frames
            for block in self.rendering:
                yield block[:left]
                left -= len(block)
                if left <= 0:
                    break
