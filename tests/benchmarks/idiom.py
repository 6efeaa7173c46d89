"""Songs of `EVERYDAY` against real ones, as one table.

Usage: python -m tests.benchmarks.idiom CORPUS [--songs N] [--seed S], where CORPUS is a folder with
`sequences.json`: anonymous sequences of the McGill Billboard annotations 2.0 (Burgoyne, Wild and
Fujinaga, ISMIR 2011, CC0). Each figure stands beside the same figure of one half of the corpus
against the other, which says how much two samples of real songs differ.
"""

from __future__ import annotations

import argparse
import json
import random
import re
from collections import Counter, defaultdict
from collections.abc import Hashable, Iterable, Sequence
from math import log2
from pathlib import Path
from statistics import median, quantiles
from typing import NamedTuple

from trainer.chart import Chart, Chord
from trainer.generate import EVERYDAY, generate

DEGREES = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
SIMPLE = re.compile(r"([b#]?[1-7])(sus|[-oh+p]?)")


class Event(NamedTuple):
    """A chord: degree with - or o, bass ("" for the root), share of its bar."""

    chord: str
    bass: str
    share: float


Bar = tuple[Event, ...]


class Line(NamedTuple):
    """A phrase: section number and kind, mode, key shift, bars."""

    section: int
    kind: str
    mode: str
    shift: int
    bars: list[Bar]


Song = list[Line]


def read_corpus(folder: Path) -> list[Song]:
    """The songs of the corpus; fading sections count as they are written."""
    songs = []
    for song in json.loads((folder / "sequences.json").read_text("utf-8"))["songs"]:
        lines = []
        for number, section in enumerate(song["sections"]):
            shift = section.get("key_shift_semitones", 0)
            mode = section.get("mode", song["mode"])
            lines += [
                Line(
                    number,
                    section["type"],
                    "minor" if mode == "minor" else "major",
                    shift[0] if isinstance(shift, list) else shift,
                    [corpus_bar(bar, mode == "minor") for bar in line],
                )
                for line in section["lines"]
            ]
        songs.append(lines)
    return songs


def corpus_bar(text: str, minor: bool) -> Bar:
    """One bar of the corpus; in minor a power chord on 1, 4 or 5 is minor."""
    parts = re.sub(r"^\(\S+\) ", "", text).split()
    events = []
    for part in parts:
        token, _, beats = part.partition("*")
        name, _, bass = token.partition("/")
        found = SIMPLE.match(name)
        quality = {"-": "-", "o": "o", "h": "o"}.get(found[2], "") if found else ""
        if found and found[2] == "p" and minor and found[1] in ("1", "4", "5"):
            quality = "-"
        chord = found[1] + quality if found else ""
        events.append((chord, bass, float(beats) if beats else 1.0))
    total = sum(beats for _, _, beats in events)
    return tuple(Event(chord, bass, beats / total) for chord, bass, beats in events)


def read_chart(chart: Chart) -> Song:
    """A generated chart in the same shape."""
    shift = 0
    lines = []
    for number, section in enumerate(chart.sections):
        for phrase in section.phrases:
            shift += phrase.bars[0].key_change
            bars = [
                tuple(
                    Event(
                        simple(event.chord),
                        DEGREES[event.chord.bass.semitones] if event.chord.bass else "",
                        float(event.beats / bar.meter.beats),
                    )
                    for event in bar.events
                    if event.chord
                )
                for bar in phrase.bars
            ]
            kind = {"tag": "outro"}.get(section.kind, section.kind)
            mode = "minor" if chart.key.minor else "major"
            lines.append(Line(number, kind, mode, shift, bars))
    return lines


def simple(chord: Chord) -> str:
    """Degree with - or o, as the corpus figures fold chords."""
    return DEGREES[chord.root.semitones] + {"-": "-", "o": "o", "h": "o"}.get(chord.quality, "")


def runs(song: Song, mode: str) -> list[list[str]]:
    """Sequences of chord changes of a song in a mode, broken where the key moves."""
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
    """n-grams of chord changes."""
    counts: Counter[Hashable] = Counter()
    for song in songs:
        for run in runs(song, mode):
            counts.update(tuple(run[at : at + order]) for at in range(len(run) - order + 1))
    return counts


def shares(songs: Iterable[Song], mode: str) -> Counter[Hashable]:
    """Time of each chord, in bars."""
    counts: Counter[Hashable] = Counter()
    for song in songs:
        for line in song:
            for event in (event for bar in line.bars for event in bar):
                if event.chord and line.mode == mode:
                    counts[event.chord] += event.share  # type: ignore[assignment]
    return counts


def divergence(a: Counter[Hashable], b: Counter[Hashable]) -> float:
    """Jensen-Shannon divergence of two counts, in bits."""
    total_a, total_b = sum(a.values()), sum(b.values())
    bits = 0.0
    for name in a.keys() | b.keys():
        p, q = a[name] / total_a, b[name] / total_b
        middle = (p + q) / 2
        bits += (p * log2(p / middle) if p else 0) + (q * log2(q / middle) if q else 0)
    return bits / 2


class Trigram:
    """Interpolated trigram of chord changes (Witten-Bell weights)."""

    def __init__(self, songs: Sequence[Song]) -> None:
        self.rows: dict[tuple[str, ...], Counter[str]] = defaultdict(Counter)
        for song in songs:
            for mode in ("major", "minor"):
                for run in runs(song, mode):
                    for at, chord in enumerate(run):
                        for back in range(3):
                            if at >= back:
                                self.rows[tuple(run[at - back : at])][chord] += 1

    def chance(self, past: tuple[str, ...], chord: str) -> float:
        """Chance of a chord after up to two others."""
        coarse = self.chance(past[1:], chord) if past else 1 / 36
        row = self.rows.get(past)
        if not row:
            return coarse
        total, kinds = row.total(), len(row)
        return (row[chord] + kinds * coarse) / (total + kinds)

    def bits(self, songs: Iterable[Song]) -> float:
        """Bits per chord change."""
        total, count = 0.0, 0
        for song in songs:
            for mode in ("major", "minor"):
                for run in runs(song, mode):
                    for at in range(1, len(run)):
                        total -= log2(self.chance(tuple(run[max(0, at - 2) : at]), run[at]))
                        count += 1
        return total / count


def windows(songs: Iterable[Song], bars: int = 4) -> Counter[Hashable]:
    """Windows of so many bars from the starts of phrases on."""
    counts: Counter[Hashable] = Counter()
    for song in songs:
        for line in song:
            for at in range(0, len(line.bars) - bars + 1, bars):
                counts[tuple(bar_key(bar) for bar in line.bars[at : at + bars])] += 1
    return counts


def bar_key(bar: Bar) -> str:
    """The simple chords of a bar, repeats joined."""
    names = [event.chord for event in bar]
    return " ".join(name for at, name in enumerate(names) if not at or name != names[at - 1])


def seen(ours: Counter[Hashable], theirs: Counter[Hashable]) -> float:
    """Share of our windows that theirs have."""
    return sum(n for key, n in ours.items() if key in theirs) / ours.total()


def chords_a_bar(songs: Iterable[Song]) -> Counter[Hashable]:
    """Bars by number of chords, even and uneven apart."""
    counts: Counter[Hashable] = Counter()
    for song in songs:
        for bar in (bar for line in song for bar in line.bars):
            parts: list[list[object]] = []
            for event in bar:
                name = f"{event.chord}/{event.bass}"
                if parts and parts[-1][0] == name:
                    parts[-1][1] += event.share  # type: ignore[operator]
                else:
                    parts.append([name, event.share])
            even = len({round(float(str(share)), 3) for _, share in parts}) == 1
            name = {1: "one", 2: "two even" if even else "two uneven"}.get(len(parts), "")
            counts[name or ("three" if len(parts) == 3 else "four or more")] += 1
    return counts


def phrase_lengths(songs: Iterable[Song]) -> Counter[Hashable]:
    """Phrases by bars."""
    return Counter(len(line.bars) for song in songs for line in song)


def repeats(song: Song) -> float:
    """Share of phrases that repeat an earlier one of the song."""
    known: set[tuple[str, ...]] = set()
    again = 0
    for line in song:
        key = tuple(bar_key(bar) for bar in line.bars)
        again += key in known
        known.add(key)
    return again / len(song)


def distinct(song: Song) -> int:
    """Distinct chords of a song."""
    return len({event.chord for line in song for bar in line.bars for event in bar if event.chord})


def shared_runs(songs: Sequence[Song], corpus: Sequence[Song]) -> list[int]:
    """For each song the longest run of bars that one song of the corpus has too.

    A run that is one loop over and over says nothing: runs with a period of at most half their
    length do not count.
    """
    theirs = [run for song in corpus for run in bar_runs(song)]
    best = [0] * len(songs)
    going = {at: bar_runs(song) for at, song in enumerate(songs)}
    length = 3
    while going:
        length += 1
        known = stretches(theirs, length)
        theirs = [run for run in theirs if len(run) > length]
        for at in list(going):
            shared = stretches(going[at], length) & known
            if any(not periodic(run) for run in shared):
                best[at] = length
            if not shared:
                del going[at]
    return best


def bar_runs(song: Song) -> list[list[str]]:
    """The bars of a song, broken where mode or key changes."""
    found: list[list[str]] = []
    key = None
    for line in song:
        if (line.mode, line.shift) != key:
            found.append([])
            key = (line.mode, line.shift)
        found[-1] += [f"{line.mode} {bar_key(bar)}" for bar in line.bars]
    return found


def stretches(found: Iterable[list[str]], length: int) -> set[tuple[str, ...]]:
    """Every stretch of so many bars."""
    return {tuple(run[at : at + length]) for run in found for at in range(len(run) - length + 1)}


def periodic(run: tuple[str, ...]) -> bool:
    """Whether a run is a loop of at most half its length."""
    return any(run[period:] == run[:-period] for period in range(2, len(run) // 2 + 1))


def returns(songs: Iterable[Song]) -> Counter[Hashable]:
    """What sections are against the one of their kind before: same, longer, shorter, changed."""
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
    """Lengths in bars of the sections of a kind."""
    found = []
    for song in songs:
        lengths: Counter[int] = Counter()
        for line in song:
            if line.kind == kind:
                lengths[line.section] += len(line.bars)
        found += list(lengths.values())
    return found


def spread(values: Sequence[float]) -> str:
    """Quartiles as text."""
    return " ".join(f"{value:g}" for value in quantiles(values, n=4))


def figures(ours: list[Song], theirs: list[Song]) -> dict[str, str]:
    """The whole table of one set of songs against another."""
    table = {}
    for mode in ("major", "minor"):
        table[f"JSD chord share, {mode}"] = (
            f"{divergence(shares(ours, mode), shares(theirs, mode)):.3f}"
        )
        for name, order in (("bigrams", 2), ("trigrams", 3)):
            value = divergence(grams(ours, mode, order), grams(theirs, mode, order))
            table[f"JSD {name}, {mode}"] = f"{value:.3f}"
    table["bits a change, their trigram"] = f"{Trigram(theirs).bits(ours):.2f}"
    table["bits a change, our trigram on theirs"] = f"{Trigram(ours).bits(theirs):.2f}"
    table["four-bar windows seen"] = f"{seen(windows(ours), windows(theirs)):.2f}"
    table["JSD chords a bar"] = f"{divergence(chords_a_bar(ours), chords_a_bar(theirs)):.4f}"
    table["JSD phrase lengths"] = f"{divergence(phrase_lengths(ours), phrase_lengths(theirs)):.4f}"
    table["repeated phrases, median"] = f"{median(map(repeats, ours)):.2f}"
    table["distinct chords, quartiles"] = spread([distinct(song) for song in ours])
    table["bars a song, quartiles"] = spread([sum(len(i.bars) for i in song) for song in ours])
    for kind in ("intro", "verse", "chorus", "bridge"):
        table[f"bars a {kind}, quartiles"] = spread(section_bars(ours, kind))
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
    table["bars shared with a song: median, 95 %, longest"] = (
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
