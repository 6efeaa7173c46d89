"""An independent listener: what librosa hears in songs of mixed styles, bands and soundfonts.

`python -m tests.benchmarks.listener --songs 60` prints its rows alone.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from functools import reduce
from operator import add
from statistics import mean

from tests.benchmarks import Row, at_least, seen
from tests.benchmarks.__main__ import table
from tests.listening import NOTHING, Listened, Listener
from trainer.sound import find_soundfont
from trainer.sound.soundfonts import bundled_soundfont

SONGS = 60


def run(songs: int = SONGS) -> list[Row]:
    """Rows over so many songs, and how each band and style fares."""
    fonts = tuple(dict.fromkeys([bundled_soundfont().resolve(), find_soundfont().resolve()]))
    listener = Listener(fonts)
    heard: dict[str, list[Listened]] = defaultdict(list)
    for number in range(songs):
        found = listener.listen(number)
        band, font = listener.band(number)
        groups = ("", f" ({band})", f" ({fonts[font].stem})", f" ({listener.song(number)[0]})")
        for group in groups:
            heard[group].append(found)
    listener.close()
    return [row for group in heard for row in _rows(group, reduce(add, heard[group], NOTHING))]


def _rows(group: str, heard: Listened) -> list[Row]:
    """The rows of all songs, with targets; of a group, to compare."""
    if group:
        return [seen(f"one-chord bars recovered{group}", 100 * heard.chord_share, "%")]
    return [
        at_least("one-chord bars recovered", 100 * heard.chord_share, 95, "%"),
        seen("… bars", heard.chords.total(), ""),
        at_least("slash basses found", 100 * heard.bass_share, 95, "%"),
        seen("… slash chords", heard.basses.total(), ""),
        at_least("beats agreed, mean F, straight feels", mean(heard.beats), 0.9, ""),
        seen("… least of one song", min(heard.beats), ""),
        seen("… songs", len(heard.beats), ""),
    ]


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--songs", type=int, default=SONGS)
    print(table(run(asked.parse_args().songs)))
