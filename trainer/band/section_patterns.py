"""Which patterns a player has in each kind of section of a song.

As a player would, each kind of section has two patterns that alternate over its stretches in one
of a few ways, so that a verse that comes back is played as before and a chorus is not.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from typing import Generic, TypeVar

from trainer.band.timeline import TimelineBar
from trainer.chart import Feel

__all__ = ["CYCLES", "FULL", "SectionPatterns"]

# From this energy on the fuller patterns are played.
FULL = 0.7
# In which bars of four the second pattern is played.
CYCLES = ((0, 0, 0, 1), (0, 1, 0, 1), (0, 0, 1, 0), (0, 0, 0, 0))

Pattern = TypeVar("Pattern")


class SectionPatterns(Generic[Pattern]):
    """The patterns of one player in a song, drawn from those of the feel by a seed.

    `light` and `fuller` hold the patterns for quieter and for fuller sections, at least one for
    each feel.
    """

    def __init__(
        self,
        seed: int,
        light: Mapping[Feel, tuple[Pattern, ...]],
        fuller: Mapping[Feel, tuple[Pattern, ...]],
    ) -> None:
        self._seed = seed
        self._tables = (light, fuller)
        self._choices: dict[tuple[str, Feel, bool], tuple[Pattern, ...]] = {}

    def pattern(self, bar: TimelineBar) -> Pattern:
        """The pattern of a bar: the same in every chart with the same seed."""
        full = bar.energy >= FULL
        key = (bar.kind, bar.feel, full)
        if key not in self._choices:
            draw = random.Random(f"{self._seed} {bar.kind} {bar.feel} {full}")
            patterns = self._tables[full][bar.feel]
            pair = draw.sample(patterns, 2) if len(patterns) > 1 else patterns * 2
            self._choices[key] = tuple(pair[turn] for turn in draw.choice(CYCLES))
        choice = self._choices[key]
        return choice[bar.stretch_index % len(choice)]
