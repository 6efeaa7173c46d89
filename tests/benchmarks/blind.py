"""Charts for a reader who is to say which songs are real.

Usage: python -m tests.benchmarks.blind CORPUS OUT [--seed S], where CORPUS is a folder with
`sequences.json` (see `idiom`) and OUT a new folder. It writes `charts.txt`, half real songs and
half songs of `EVERYDAY` in one layout and in any order, and `key.txt`, which says which are which.
The reader sees `charts.txt` alone, marks half of the charts as real, and gives reasons; the key is
opened after all readers have answered. Extensions, articulations, titles and tempos are left out.
"""

from __future__ import annotations

import argparse
import random
from pathlib import Path

from tests.benchmarks.two_sample import block
from tests.benchmarks.written_songs import Bar, WrittenSong, read_corpus

EACH = 15
# Bars of a song: long enough to judge, and short enough to read thirty of them.
LEAST, MOST = 40, 130
# Songs of ours are drawn from seeds that no other benchmark uses.
FIRST_SEED, DRAWN = 700_000, 40


def written(song: WrittenSong) -> str:
    """Return a song as a chart: a line for each phrase, brackets around a split bar."""
    out = []
    for section in song.sections:
        out.append(f"{section.kind}:")
        out += ["  " + " ".join(_bar(bar) for bar in line) for line in section.lines]
    return "\n".join(out)


def _bar(bar: Bar) -> str:
    """Return a bar, a chord written again left out and 0 for silence."""
    names = [(one.chord or "0") + (f"/{one.bass}" if one.bass else "") for one in bar] or ["0"]
    told = [name for at, name in enumerate(names) if not at or name != names[at - 1]]
    return told[0] if len(told) == 1 else f"({' '.join(told)})"


def drawn(real: list[WrittenSong], seed: int) -> list[tuple[WrittenSong, str]]:
    """Return the songs of one reader in the reader's order, each with `real` or `made`."""
    rng = random.Random(seed)

    def fits(song: WrittenSong) -> bool:
        return LEAST <= len(song.bars()) <= MOST

    ours = [song for song in block(FIRST_SEED + 100 * seed, DRAWN) if fits(song)]
    picked = [(song, "real") for song in rng.sample([song for song in real if fits(song)], EACH)]
    picked += [(song, "made") for song in ours[:EACH]]
    rng.shuffle(picked)
    return picked


def main() -> None:
    """Write the charts and the key."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("corpus", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    asked.out.mkdir()
    songs = drawn(read_corpus(asked.corpus), asked.seed)
    charts = [
        f"=== Chart {number} ({'minor' if song.minor else 'major'}) ===\n{written(song)}\n"
        for number, (song, _) in enumerate(songs, 1)
    ]
    (asked.out / "charts.txt").write_text("\n".join(charts), encoding="utf-8")
    key = [f"{number} {kind}\n" for number, (_, kind) in enumerate(songs, 1)]
    (asked.out / "key.txt").write_text("".join(key), encoding="utf-8")


if __name__ == "__main__":
    main()
