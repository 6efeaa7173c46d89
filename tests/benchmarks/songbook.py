"""The songbook: a search in many songs, an archive written and read, two long charts compared.

Times are CPU seconds of this process; the database works in it, too.
"""

from __future__ import annotations

import random
import tempfile
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from time import process_time

from tests.benchmarks import Row, at_most
from trainer.chart import Chart, format_chart, parse
from trainer.generate import Settings, generate
from trainer.songbook import Songbook, compare, import_archive, play_song_text, write_archive
from trainer.store import Store

SONGS, ARCHIVED, LONG_BARS = 5_000, 500, 2_000
# With its count-off this is just under twenty minutes at 400 quarters a minute.
LONGEST_BARS = 1_992
# So many different songs are generated; the others have the same bars under other titles.
GENERATED = 100
SEARCHES = ("", "5/7", "lantern", "song 42", "nothing like this", "verse chorus 6-")
TARGETS_S = {"search": 0.05, "archive": 10.0, "compare": 5.0, "play": 0.15}
NOW = datetime(2026, 3, 2, 19, 30, tzinfo=UTC)


def texts(count: int) -> list[str]:
    """Texts of songs, each with a title of its own."""
    rng = random.Random(1)
    made = [format_chart(generate(Settings(), rng)) for _ in range(GENERATED)]
    return [
        made[number % GENERATED].replace("title: ", f"title: Song {number} ", 1)
        for number in range(count)
    ]


def seconds(work: Callable[[], object], times: int = 5) -> float:
    """The least CPU seconds of several runs."""
    taken = []
    for _ in range(times):
        begun = process_time()
        work()
        taken.append(process_time() - begun)
    return min(taken)


def row(name: str, found_s: float, target: str) -> Row:
    """A row in milliseconds against a target."""
    return at_most(name, 1000 * found_s, 1000 * TARGETS_S[target], "ms")


def long_chart(seed: int, count: int = LONG_BARS) -> Chart:
    """A chart of many bars."""
    rng = random.Random(seed)
    bars = [rng.choice(("1", "4", "5", "6-")) for _ in range(count)]
    return parse("\n".join(" ".join(bars[at : at + 8]) for at in range(0, count, 8)))


def charts_to_play() -> dict[str, str]:
    """Texts of charts of one's own by what they are: a song as long as songs are, one five times as
    long, and the longest that is played, at the fastest tempo."""
    rng = random.Random(3)
    song = generate(Settings(), rng)
    five = replace(song, sections=song.sections * 5)
    longest = replace(long_chart(3, LONGEST_BARS), tempo=400.0)
    charts = (song, five, longest)
    return {f"{len(chart.bars()):,} bars": format_chart(chart) for chart in charts}


def run() -> list[Row]:
    """All rows."""
    rows = []
    with tempfile.TemporaryDirectory() as folder, Store(folder) as store:
        book = Songbook(store, store.learners.add("Wren Halloway", NOW), lambda: NOW)
        with store.transaction() as within:
            filled = book.within(within)
            for text in texts(SONGS):
                filled.new(text)
        slowest = max(seconds(lambda words=words: book.find(words)) for words in SEARCHES)  # type: ignore[misc]
        rows.append(
            row(f"the slowest of {len(SEARCHES)} searches in {SONGS:,} songs", slowest, "search")
        )
        songs = store.songs.all(book.learner)[:ARCHIVED]
        rows.append(row(f"{ARCHIVED} songs written as an archive",
                        seconds(lambda: write_archive(songs), 1), "archive"))  # fmt: skip
        content = write_archive(songs)
        other = Songbook(store, store.learners.add("Zoë Ångström", NOW), lambda: NOW)
        rows.append(row(f"{ARCHIVED} songs read from an archive of {len(content):,} bytes",
                        seconds(lambda: import_archive(other, content), 1), "archive"))  # fmt: skip
        text = songs[0].version.text
        rows.append(
            row("the band's notes of an own song", seconds(lambda: play_song_text(text)), "play")
        )
    left, right = long_chart(1), long_chart(2)
    compared = seconds(lambda: compare(left, right), 1)
    rows.append(row(f"two charts of {LONG_BARS:,} bars compared", compared, "compare"))
    return rows
