"""Songs generated, the terminal's start."""

from __future__ import annotations

import random
import subprocess
import sys
from pathlib import Path

from tests.benchmarks import Row, at_least, at_most, best_in_turns
from trainer.generate import Settings, generate

SONGS = 300


def songs_a_second() -> Row:
    """Full songs generated in a second."""
    rng = random.Random(1)

    def make() -> None:
        for _ in range(SONGS):
            generate(Settings(), rng)

    return at_least("full songs generated a second", SONGS / best_in_turns(make)[0], 300, "")


def help_text() -> Row:
    """The terminal command's start."""
    line = [str(Path(sys.executable).parent / "chart-trainer"), "--help"]

    def ask() -> None:
        said = subprocess.run(line, check=True, capture_output=True, text=True).stdout
        if "Usage" not in said:
            raise RuntimeError(f"chart-trainer --help: found {said[:80]!r}, expected its usage")

    took = best_in_turns(ask, times=5)
    return at_most("chart-trainer --help", took[0], 0.4, "s")


def run() -> list[Row]:
    """All rows."""
    return [songs_a_second(), help_text()]
