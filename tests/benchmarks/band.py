"""Arranging: a song of three minutes, with the chords never seen before and again."""

from __future__ import annotations

import random
import tracemalloc

from tests.benchmarks import Row, at_most, best_in_turns
from tests.generate.everyday import EVERYDAY
from trainer.band import arrange, keyboards, shapes
from trainer.chart import Chart
from trainer.generate import generate

SONG_S = (175.0, 185.0)


def three_minutes() -> Chart:
    """A song of everyday that lasts about three minutes."""
    rng = random.Random(3)
    while True:
        chart = generate(EVERYDAY, rng)
        played = arrange(chart, rng=random.Random(1))
        if SONG_S[0] <= played.tempo_map.seconds(played.length_quarters) <= SONG_S[1]:
            return chart


def run() -> list[Row]:
    """All rows."""
    chart = three_minutes()

    # Ten at a time, for a processor's clock ticks a hundred times a second.
    def play() -> None:
        for _ in range(10):
            arrange(chart, rng=random.Random(1))

    def play_anew() -> None:
        found = (shapes.find_shape, shapes._search, keyboards._voicings, keyboards._next_voicing)
        for _ in range(10):
            for remembered in found:
                remembered.cache_clear()
            arrange(chart, rng=random.Random(1))

    tracemalloc.start()
    arrange(chart, rng=random.Random(1))
    peak_mib = tracemalloc.get_traced_memory()[1] / 2**20
    tracemalloc.stop()
    again, anew = best_in_turns(play, play_anew)
    return [
        at_most("three minutes arranged, new chords", anew * 100, 100, "ms"),
        at_most("… chords seen before", again * 100, 100, "ms"),
        at_most("… peak memory", peak_mib, 50, "MiB"),
    ]
