"""Harmonic rhythm: which bars hold a chord, take a new one or are split, and how.

Bar types: H holds the chord before, N a new chord for the whole bar, S a split bar, T a split bar
that starts on the chord before. They follow each other as the tables say, by place in the phrase
and by how split the song is; the odds of a split are then set so that the asked share comes out.
"""

from __future__ import annotations

import random
from functools import cache, lru_cache
from math import fsum, sqrt
from typing import NamedTuple

from trainer.chart import Meter
from trainer.generate.tables import table
from trainer.generate.weighted_choice import WeightedChoice, happens

__all__ = ["BarRhythm", "HarmonicRhythm", "draw_bar_rhythms", "draw_harmonic_rhythm", "split_odds"]

Row = dict[str, float]
BUSY_SONGS, HABIT_SHARE, MOST_SPLIT = 0.2, 0.9, 0.55


class BarRhythm(NamedTuple):
    """A bar: the beats of its chords, and whether the first is held over from the bar before."""

    beats: tuple[int, ...]
    held: bool


class HarmonicRhythm(NamedTuple):
    """The harmonic rhythm of a song.

    `group` is its group in the tables; `splits` the share of bars that are split, `uneven` the
    share of those that are not even; `habit` is the uneven shape that the song mostly uses, `busy`
    whether it splits bars into four.
    """

    group: str
    splits: float
    uneven: float
    meter: Meter
    habit: tuple[int, ...]
    busy: bool


def draw_harmonic_rhythm(
    rng: random.Random, meter: Meter, splits: float, uneven: float, variety: float
) -> HarmonicRhythm:
    """Draw the harmonic rhythm of a song: the rate of splits that is asked for or, with probability
    `variety`, one spread around it as in real songs."""
    share = splits
    if variety and 0 < splits < 1 and happens(rng, variety):
        share = _spread(splits, rng.random())
    group = "a" if share < 0.03 else "b" if share < 0.2 else "c" if share < 0.45 else "d"
    habit = _shapes("3", True).choose(rng)
    return HarmonicRhythm(group, _step(share), uneven, meter, habit, happens(rng, BUSY_SONGS))


def _step(share: float) -> float:
    """The share rounded to fiftieths, finer near 0 and 1, so that few odds have to be solved."""
    return round(share, 2) if share < 0.1 or share > 0.95 else round(share * 50) / 50


def _spread(mean: float, quantile: float) -> float:
    """The share at a quantile of those of real songs, scaled to a mean."""
    shares = _shares(mean)
    return shares[min(int(quantile * len(shares)), len(shares) - 1)]


@lru_cache(maxsize=64)
def _shares(mean: float) -> list[float]:
    """The shares of real songs scaled to a mean, none above `MOST_SPLIT` unless the mean is."""
    steps: list[float] = table("rhythm")["split_shares"]
    most = max(MOST_SPLIT, mean)
    scale = mean * len(steps) / fsum(steps)
    for _ in range(12):
        shares = [min(most, step * scale) for step in steps]
        scale *= mean * len(steps) / fsum(shares)
    return shares


@cache
def _chains(group: str) -> dict[str, Row]:
    """Rows by place and up to two past types, coarser contexts summed from finer ones."""
    chains: dict[str, Row] = {}
    for key, counts in table("rhythm")["chain"].items():
        of_group, place, past = key.split(" ")
        if of_group != group:
            continue
        for context in {past, past[-1:], ""}:
            row = chains.setdefault(f"{place} {context}", {})
            for name, count in counts.items():
                row[name] = row.get(name, 0.0) + count
    return chains


def _row(group: str, place: str, past: str, odds: float) -> Row:
    """The probabilities of the bar types in a context, the odds of a split multiplied by `odds`."""
    chains = _chains(group)
    row = next(
        chains[key]
        for key in (f"{place} {past[-2:]}", f"{place} {past[-1:]}", f"{place} ")
        if key in chains
    )
    whole = {name: row.get(name, 0.0) + (0.02 if name == "N" else 0.0) for name in "HN"}
    split = {name: row.get(name, 0.0) * odds for name in "ST"}
    split["S"] += 0.02 * odds
    if place == "0":
        whole["H"] = split["T"] = 0.0
    both = whole | split
    total = fsum(both.values())
    return {name: weight / total for name, weight in both.items()}


def _place(index: int, count: int) -> str:
    """Place of a bar in its phrase, as the tables name it."""
    if index == 0:
        return "0"
    return "3" if index == count - 1 else "12"[(index + 1) % 2]


def _expected(group: str, odds: float) -> float:
    """Share of split bars in a four-bar phrase."""
    states: Row = {"": 1.0}
    split = 0.0
    for index in range(4):
        after: Row = {}
        for past, likely in states.items():
            for name, part in _row(group, _place(index, 4), past, odds).items():
                key = (past + name)[-2:]
                after[key] = after.get(key, 0.0) + likely * part
                if name in "ST":
                    split += likely * part
        states = after
    return split / 4


@lru_cache(maxsize=1024)
def split_odds(group: str, share: float) -> float:
    """The odds multiplier at which `share` of the bars are split."""
    if share <= 0:
        return 0.0
    low, high = 1e-4, 1e4
    for _ in range(24):
        middle = sqrt(low * high)
        if _expected(group, middle) < share:
            low = middle
        else:
            high = middle
    return high


@lru_cache(maxsize=8192)
def _bar_types(group: str, place: str, past: str, share: float) -> WeightedChoice[str]:
    """The bar types of a context, ready to draw."""
    return WeightedChoice(_row(group, place, past, split_odds(group, share)).items())


def draw_bar_rhythms(
    rng: random.Random, rhythm: HarmonicRhythm, count: int, kept: str = "", still: bool = False
) -> tuple[str, list[BarRhythm]]:
    """The bar types and bar rhythms of a phrase of `count` bars.

    `kept` are types that the phrase starts with (their rhythms are drawn, too); `still` says that
    the phrase has one chord, which every bar holds.
    """
    types = kept
    while len(types) < count:
        place = _place(len(types), count)
        types += _bar_types(rhythm.group, place, types[-2:], rhythm.splits).choose(rng)
    if still:
        types = "N" + "H" * (count - 1)
    if count > 4 and not kept and types[-1] == "N" and happens(rng, 0.5):
        types = types[:-1] + "H"
    bars: list[BarRhythm] = []
    full = False
    for at, name in enumerate(types):
        made = draw_bar_rhythm(rng, rhythm, name, _place(at, count), full)
        full = full or len(made.beats) > 2
        bars.append(made)
    return types, bars


def draw_bar_rhythm(
    rng: random.Random, rhythm: HarmonicRhythm, name: str, place: str, full: bool = False
) -> BarRhythm:
    """The rhythm of one bar of a type; where a bar of the phrase is `full` (three chords or more),
    this one has at most two."""
    if name in "HN":
        return BarRhythm((rhythm.meter.beats,), name == "H")
    shape = _shape(rng, rhythm, place)
    if full and len(shape) > 2 and rhythm.meter.beats % 4 == 0:
        quarter = rhythm.meter.beats // 4
        even = len(set(shape)) == 1
        shape = (2 * quarter, 2 * quarter) if even else (3 * quarter, quarter)
    return BarRhythm(shape, name == "T")


@cache
def _shapes(place: str, uneven: bool) -> WeightedChoice[tuple[int, ...]]:
    """The shapes of split bars in quarters of a bar, weighted."""
    counts = table("rhythm")["shape"][place]
    weighted = [(tuple(map(int, name.split("+"))), count) for name, count in counts.items()]
    return WeightedChoice((shape, n) for shape, n in weighted if (len(set(shape)) > 1) == uneven)


def _shape(rng: random.Random, rhythm: HarmonicRhythm, place: str) -> tuple[int, ...]:
    """The beats of a split bar: in quarters in 4/4 and 12/8, in halves in 6/8, in 3/4 by the
    beat."""
    uneven = happens(rng, rhythm.uneven)
    meter = str(rhythm.meter)
    if meter == "3/4":
        if not uneven:
            return (1, 1, 1)
        return (2, 1) if happens(rng, 0.75) else (1, 2)
    if meter == "6/8":
        return (3, 3)
    if uneven and happens(rng, HABIT_SHARE):
        shape = rhythm.habit
    else:
        shape = _shapes(place, uneven).choose(rng)
        while not uneven and len(shape) > 2 and not rhythm.busy:
            shape = _shapes(place, uneven).choose(rng)
    return tuple(3 * beats for beats in shape) if meter == "12/8" else shape
