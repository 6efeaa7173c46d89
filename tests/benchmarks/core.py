"""Songs generated, charts graded, the terminal's start."""

from __future__ import annotations

import random
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

from tests.benchmarks import Row, at_least, at_most, best_in_turns
from trainer.chart import Bar, Chart, Chord, Event
from trainer.generate import Settings, generate
from trainer.grade import grade

SONGS = 300
ANSWERS = 1000
BARS = range(78, 83)


def songs_a_second() -> Row:
    """Full songs generated in a second."""
    rng = random.Random(1)

    def make() -> None:
        for _ in range(SONGS):
            generate(Settings(), rng)

    return at_least("full songs generated a second", SONGS / best_in_turns(make)[0], 300, "")


def with_slips(chart: Chart, rng: random.Random) -> Chart:
    """What a learner might write: a tenth of the chords wrong, here and there a bar left out."""

    def slip(bar: Bar) -> Bar:
        if rng.random() > 0.1:
            return bar
        wrong = Chord(rng.randint(1, 7), quality=rng.choice(("", "-")))
        first: Event = replace(bar.events[0], chord=wrong)
        return replace(bar, events=(first, *bar.events[1:]))

    return replace(chart, sections=tuple(
        replace(section, phrases=tuple(
            replace(phrase, bars=tuple(
                slip(bar) for n, bar in enumerate(phrase.bars) if n == 0 or rng.random() > 0.02))
            for phrase in section.phrases))
        for section in chart.sections))


def grading() -> Row:
    """A thousand answers of about 80 bars graded, each to a song of its own."""
    rng = random.Random(2)
    pairs: list[tuple[Chart, Chart]] = []
    while len(pairs) < ANSWERS:
        chart = generate(Settings(), rng)
        if len(chart.bars()) in BARS:
            pairs.append((chart, with_slips(chart, rng)))

    def mark() -> None:
        for reference, answer in pairs:
            grade(reference, answer)

    return at_most(f"{ANSWERS} answers of 80 bars graded", best_in_turns(mark)[0], 2, "s")


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
    return [songs_a_second(), grading(), help_text()]
