"""Write the pinned songs anew; the difference is to be read before it is committed."""

from __future__ import annotations

import random
from pathlib import Path

from tests.generate.everyday import EVERYDAY
from trainer.chart import format_chart
from trainer.generate import GENERATOR_VERSION, Features, Settings, generate

PINNED = {
    "everyday-1": (EVERYDAY, 1),
    "everyday-2": (EVERYDAY, 2),
    "phrase-of-145": (Settings(size="phrase", chords=("1", "4", "5")), 7),
    "waltz-section": (
        Settings(
            size="section",
            styles=("waltz",),
            features=Features(splits=0.3, uneven_splits=0.8, slash_chords=0.2),
        ),
        3,
    ),
    "gospel-song": (
        Settings(
            styles=("gospel 12/8",),
            extensions=0.4,
            features=Features(splits=0.4, slash_chords=0.2, holds=0.05, tag=1.0, key_change=1.0),
        ),
        11,
    ),
}


def songs() -> dict[str, str]:
    """The pinned songs as text, a comment line with the generator's version first."""
    return {
        name: f"generator {GENERATOR_VERSION}, seed {seed}\n"
        + format_chart(generate(settings, random.Random(seed)))
        for name, (settings, seed) in PINNED.items()
    }


if __name__ == "__main__":
    for name, text in songs().items():
        (Path(__file__).parent / f"song-{name}.txt").write_text(text, "utf-8")
