"""Songs of `EVERYDAY` against real ones, as one table.

Usage: python -m tests.benchmarks.idiom CORPUS [--songs N] [--seed S], where CORPUS is a folder with
`sequences.json`: anonymous sequences of the McGill Billboard annotations 2.0 (Burgoyne, Wild and
Fujinaga, ISMIR 2011, CC0). Each figure stands beside the same figure of one half of the corpus
against the other, which says how much two samples of real songs differ.
"""

from __future__ import annotations

import argparse
import random
from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Mapping, Sequence
from itertools import groupby
from math import log2
from pathlib import Path
from statistics import median, quantiles

from tests.benchmarks.idiom_songs import Bar, Song, bar_key, read_chart, read_corpus
from tests.generate.everyday import EVERYDAY
from trainer.generate import generate


def runs(song: Song, mode: str) -> list[list[str]]:
    """Return sequences of chord changes of a song in a mode, broken where the key moves."""
    found: list[list[str]] = []
    key = None
    for line in song:
        if (line.mode, line.shift) != key:
            found.append([])
            key = (line.mode, line.shift)
        if line.mode != mode:
            continue
        for bar in line.bars:
            for event in bar:
                if event.chord and (not found[-1] or found[-1][-1] != event.chord):
                    found[-1].append(event.chord)
    return [run for run in found if run]


def grams(songs: Iterable[Song], mode: str, order: int) -> Counter[Hashable]:
    """Count n-grams of chord changes; `order` is n."""
    counts: Counter[Hashable] = Counter()
    for song in songs:
        for run in runs(song, mode):
            counts.update(tuple(run[at : at + order]) for at in range(len(run) - order + 1))
    return counts


def chord_durations(songs: Iterable[Song], mode: str) -> dict[Hashable, float]:
    """Return how long each chord lasts in all songs of a mode, in bars."""
    durations: defaultdict[Hashable, float] = defaultdict(float)
    for song in songs:
        for line in song:
            for event in (event for bar in line.bars for event in bar):
                if event.chord and line.mode == mode:
                    durations[event.chord] += event.share
    return durations


def divergence(a: Mapping[Hashable, float], b: Mapping[Hashable, float]) -> float:
    """Return the Jensen-Shannon divergence of two distributions, in bits (Lin 1991)."""
    total_a, total_b = sum(a.values()), sum(b.values())
    bits = 0.0
    for name in a.keys() | b.keys():
        p, q = a.get(name, 0) / total_a, b.get(name, 0) / total_b
        middle = (p + q) / 2
        bits += (p * log2(p / middle) if p else 0) + (q * log2(q / middle) if q else 0)
    return bits / 2


class Trigram:
    """An interpolated trigram model of chord changes (weights after Witten & Bell 1991)."""

    def __init__(self, songs: Sequence[Song]) -> None:
        self.rows: dict[tuple[str, ...], Counter[str]] = defaultdict(Counter)
        for song in songs:
            for mode in ("major", "minor"):
                for run in runs(song, mode):
                    for at, chord in enumerate(run):
                        for back in range(3):
                            if at >= back:
                                self.rows[tuple(run[at - back : at])][chord] += 1

    def probability(self, past: tuple[str, ...], chord: str) -> float:
        """Return the probability of a chord after up to two others."""
        coarse = self.probability(past[1:], chord) if past else 1 / 36
        row = self.rows.get(past)
        if not row:
            return coarse
        total, kinds = row.total(), len(row)
        return (row[chord] + kinds * coarse) / (total + kinds)

    def bits(self, songs: Iterable[Song]) -> float:
        """Return the bits that a chord change of the songs takes (cross-entropy)."""
        total, count = 0.0, 0
        for song in songs:
            for mode in ("major", "minor"):
                for run in runs(song, mode):
                    for at in range(1, len(run)):
                        total -= log2(self.probability(tuple(run[max(0, at - 2) : at]), run[at]))
                        count += 1
        return total / count


def windows(songs: Iterable[Song], bars: int = 4) -> Counter[Hashable]:
    """Count windows of so many bars, one after another from the start of each phrase."""
    counts: Counter[Hashable] = Counter()
    for song in songs:
        for line in song:
            for at in range(0, len(line.bars) - bars + 1, bars):
                counts[tuple(bar_key(bar) for bar in line.bars[at : at + bars])] += 1
    return counts


def share_seen(ours: Counter[Hashable], theirs: Counter[Hashable]) -> float:
    """Return the share of our windows that theirs have, 0 to 1."""
    return sum(n for key, n in ours.items() if key in theirs) / ours.total()


def chords_a_bar(songs: Iterable[Song]) -> Counter[Hashable]:
    """Count bars by their number of chords, even and uneven splits in two apart."""
    return Counter(split_class(bar) for song in songs for line in song for bar in line.bars)


def split_class(bar: Bar) -> str:
    """Return how many chords a bar has, and whether two of them are equally long."""
    chords = groupby(bar, key=lambda event: (event.chord, event.bass))
    shares = [sum(event.share for event in events) for _, events in chords]
    if len(shares) == 2:
        even = len({round(share, 3) for share in shares}) == 1
        return "two even" if even else "two uneven"
    return {1: "one", 3: "three"}.get(len(shares), "four or more")


def phrase_lengths(songs: Iterable[Song]) -> Counter[Hashable]:
    """Count phrases by their length in bars."""
    return Counter(len(line.bars) for song in songs for line in song)


def repeated_share(song: Song) -> float:
    """Return the share of phrases that repeat an earlier one of the song, 0 to 1."""
    known: set[tuple[str, ...]] = set()
    again = 0
    for line in song:
        key = tuple(bar_key(bar) for bar in line.bars)
        again += key in known
        known.add(key)
    return again / len(song)


def different_chords(song: Song) -> int:
    """Return the number of different chords of a song."""
    return len({event.chord for line in song for bar in line.bars for event in bar if event.chord})


def shared_runs(songs: Sequence[Song], corpus: Sequence[Song]) -> list[int]:
    """Return for each song the longest run of bars that a song of the corpus has, too.

    A run that repeats one loop says nothing: runs with a period of at most half their length do not
    count.
    """
    theirs = [run for song in corpus for run in bar_runs(song)]
    best = [0] * len(songs)
    going = {at: bar_runs(song) for at, song in enumerate(songs)}
    length = 3
    while going:
        length += 1
        known = windows_of(theirs, length)
        theirs = [run for run in theirs if len(run) > length]
        for at in list(going):
            shared = windows_of(going[at], length) & known
            if any(not periodic(run) for run in shared):
                best[at] = length
            if not shared:
                del going[at]
    return best


def bar_runs(song: Song) -> list[list[str]]:
    """Return the bars of a song, broken where the mode or the key changes."""
    found: list[list[str]] = []
    key = None
    for line in song:
        if (line.mode, line.shift) != key:
            found.append([])
            key = (line.mode, line.shift)
        found[-1] += [f"{line.mode} {bar_key(bar)}" for bar in line.bars]
    return found


def windows_of(found: Iterable[list[str]], length: int) -> set[tuple[str, ...]]:
    """Return every run of so many bars."""
    return {tuple(run[at : at + length]) for run in found for at in range(len(run) - length + 1)}


def periodic(run: tuple[str, ...]) -> bool:
    """Return whether a run repeats a loop of at most half its length."""
    return any(run[period:] == run[:-period] for period in range(2, len(run) // 2 + 1))


def returns(songs: Iterable[Song]) -> Counter[Hashable]:
    """Count what sections are against the last of their kind: same, longer, shorter, changed."""
    counts: Counter[Hashable] = Counter()
    for song in songs:
        sections: dict[int, tuple[str, list[str]]] = {}
        for line in song:
            sections.setdefault(line.section, (line.kind, []))[1].extend(map(bar_key, line.bars))
        before: dict[str, list[str]] = {}
        for kind, bars in sections.values():
            if kind in before and kind in ("verse", "chorus", "pre-chorus", "bridge"):
                past = before[kind]
                name = "changed" if len(past) == len(bars) else "longer"
                name = "shorter" if len(bars) < len(past) else name
                counts["same" if past == bars else name] += 1
            before[kind] = bars
    return counts


def section_bars(songs: Iterable[Song], kind: str) -> list[int]:
    """Return the lengths in bars of the sections of a kind."""
    found = []
    for song in songs:
        lengths: Counter[int] = Counter()
        for line in song:
            if line.kind == kind:
                lengths[line.section] += len(line.bars)
        found += list(lengths.values())
    return found


def quartiles(values: Sequence[float]) -> str:
    """Return the quartiles as text."""
    return " ".join(f"{value:g}" for value in quantiles(values, n=4))


def figures(ours: list[Song], theirs: list[Song]) -> dict[str, str]:
    """Return all figures of one set of songs against another, by name."""
    table = {}
    for mode in ("major", "minor"):
        table[f"JSD chord share, {mode}"] = (
            f"{divergence(chord_durations(ours, mode), chord_durations(theirs, mode)):.3f}"
        )
        for name, order in (("bigrams", 2), ("trigrams", 3)):
            value = divergence(grams(ours, mode, order), grams(theirs, mode, order))
            table[f"JSD {name}, {mode}"] = f"{value:.3f}"
    table["bits a change, their trigram"] = f"{Trigram(theirs).bits(ours):.2f}"
    table["bits a change, our trigram on theirs"] = f"{Trigram(ours).bits(theirs):.2f}"
    table["four-bar windows seen"] = f"{share_seen(windows(ours), windows(theirs)):.2f}"
    table["JSD chords a bar"] = f"{divergence(chords_a_bar(ours), chords_a_bar(theirs)):.4f}"
    table["JSD phrase lengths"] = f"{divergence(phrase_lengths(ours), phrase_lengths(theirs)):.4f}"
    table["repeated phrases, median"] = f"{median(map(repeated_share, ours)):.2f}"
    table["distinct chords, quartiles"] = quartiles([different_chords(song) for song in ours])
    table["bars a song, quartiles"] = quartiles([sum(len(i.bars) for i in song) for song in ours])
    for kind in ("intro", "verse", "chorus", "bridge"):
        table[f"bars a {kind}, quartiles"] = quartiles(section_bars(ours, kind))
    split = chords_a_bar(ours)
    for chords, count in sorted(split.items(), key=str):
        table[f"bars with chords: {chords}"] = f"{count / split.total():.3f}"
    lengths = phrase_lengths(ours)
    table["phrases of 1 2 3 4 5 6 8 bars"] = " ".join(
        f"{lengths[n] / lengths.total():.3f}" for n in (1, 2, 3, 4, 5, 6, 8)
    )
    table["bars with a slash chord"] = "{:.3f}".format(
        sum(any(e.bass for e in bar) for s in ours for i in s for bar in i.bars)
        / sum(len(i.bars) for s in ours for i in s)
    )
    back = returns(ours)
    table["returns: same, changed, longer, shorter"] = " ".join(
        f"{back[n] / back.total():.2f}" for n in ("same", "changed", "longer", "shorter")
    )
    shared = shared_runs(ours, theirs)
    table["bars shared with a song: median, 95%, longest"] = (
        f"{median(shared):g} {quantiles(shared, n=20)[-1]:g} {max(shared)}"
    )
    return table


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("corpus", type=Path)
    parser.add_argument("--songs", type=int, default=400)
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    corpus = read_corpus(asked.corpus)
    ours = [
        read_chart(generate(EVERYDAY, random.Random(asked.seed + at))) for at in range(asked.songs)
    ]
    left, right = figures(ours, corpus), figures(corpus[::2], corpus[1::2])
    print(f"{'':42}{f'{asked.songs} songs':>36}{'half the corpus':>44}")
    for name in left:
        print(f"{name:42}{left[name]:>36}{right[name]:>44}")


if __name__ == "__main__":
    main()
