"""Small arrangements, and audio as one array."""

from __future__ import annotations

import random
from collections.abc import Iterable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from trainer.band.parts import Arrangement, BarTime, Note, Part, TempoMap
from trainer.sound.rendering import Rendering

SQUARE, BASS, GUITAR, PIANO, FLUTE = 80, 33, 25, 0, 73
KICK, STICK, SNARE, HAT = 36, 37, 38, 42


def piece(*parts: Part, quarters: float = 4.0, seconds_per_quarter: float = 0.5) -> Arrangement:
    """Parts from the first click on, in 4/4."""
    bars = tuple(BarTime(n + 1, 4.0 * n, 4.0) for n in range(int(quarters // 4)))
    return Arrangement(parts, bars, TempoMap(seconds_per_quarter), 0.0, quarters)


def part(notes: Iterable[Note], program: int = SQUARE, **more: Any) -> Part:
    """One part by its notes."""
    settings: dict[str, Any] = {"name": "part", "is_drum": False} | more
    return Part(program=program, notes=tuple(notes), **settings)


def song(seed: int, bars: int = 8, seconds_per_quarter: float = 0.5) -> Arrangement:
    """A small band playing chords, different for each seed."""
    rng = random.Random(seed)
    bass, guitar, keys, drums = [], [], [], []
    for bar in range(bars):
        at, root = 4.0 * bar, rng.choice((0, 2, 4, 5, 7, 9))
        bass += [Note(at + beat, 1.8, 36 + root, rng.randint(70, 100)) for beat in (0, 2)]
        for eighth in range(8):
            velocity = rng.randint(50, 90)
            guitar += [
                Note(at + eighth / 2 + place / 50, 0.5, 48 + root + step, velocity)
                for place, step in enumerate((0, 7, 12, 16))
            ]
        keys += [Note(at, 3.9, 60 + root + step, 70) for step in (0, 4, 7)]
        drums += [Note(at + beat, 0.1, key, 95) for beat, key in enumerate((KICK, SNARE) * 2)]
        drums += [Note(at + eighth / 2, 0.1, HAT, 60) for eighth in range(8)]
    return piece(
        part(bass, BASS),
        part(guitar, GUITAR, level=90, pan=-0.4),
        part(keys, PIANO, level=80, pan=0.4),
        part(drums, 0, is_drum=True),
        quarters=4.0 * bars,
        seconds_per_quarter=seconds_per_quarter,
    )


def whole(rendering: Rendering) -> NDArray[np.int16]:
    """All of a rendering."""
    return np.concatenate(list(rendering))
