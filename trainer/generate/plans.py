"""Plans of songs: how a song is built, without its chords; and worlds: chords that go together.

A plan keeps the joint structure of a real song: its sections and their lines, which lines and bars
are alike, how long chords last, where home is, where nothing is played and whether the song fades.
Its chords are numbers, 0 for home and the others by how long they last. A world is the unordered
set of chords, as written, of one song of the other half of the source, so that no song of ours can
have the plan and the chords of one real song.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from hashlib import sha256
from itertools import accumulate, repeat
from math import fsum, sqrt
from operator import mul
from sys import intern
from typing import Any, NamedTuple

from trainer.generate.form import LETTERS
from trainer.generate.tables import read_table, table
from trainer.generate.weighted_choice import WeightedChoice

__all__ = [
    "QUARTERS",
    "SILENT",
    "BarPlan",
    "Plan",
    "PlannedEvent",
    "World",
    "all_plans",
    "draw_plan",
    "draw_world",
    "forms_needed",
    "line_mark",
    "read_plan",
]

SILENT = -1
# At least so many worlds are chosen from; a wanted share is at most so many times the real one.
LEAST_WORLDS, MOST_TILT = 8, 2.5
# A style's leaning to a chord counts up to this factor, twice.
MOST_LEAN = 2.5
FORM_LETTERS = "abcdefgh"
# The highest power, in quarters, by which weights are changed.
MOST_QUARTERS = 64
QUARTERS = 4


class PlannedEvent(NamedTuple):
    """An event of a plan.

    It has the number of its chord (`SILENT` for none), which of the song's forms of the chord it is
    (0 the usual one), the class of its bass ("" for the root, h the 1, t the third, f the fifth, o
    another), and its length in quarters of the bar.
    """

    chord: int
    form: int
    bass: str
    quarters: int


# The events of a bar; those of a short bar have two quarters together, others four.
BarPlan = tuple[PlannedEvent, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """A plan of a song.

    `chords` is how many chords it has, home included. `lines` are its different lines;
    `derived[k]` is the earlier line that line k varies, -1 for none. `sections` has the kind of
    each section and the numbers of its lines. `marks` has a number for each line by which one sees
    that it would be written as its source has it (`line_mark`). `splits` and `slash` are its
    shares of bars that are split and that have a slash chord, `home` the share of home among the
    chords moved to, `forms` the number of forms of each chord. `fades` is true of songs that fade
    or do not end at home, `half` is the half of the corpus that the source is in.
    """

    minor: bool
    half: int
    chords: int
    fades: bool
    lines: tuple[tuple[BarPlan, ...], ...]
    derived: tuple[int, ...]
    sections: tuple[tuple[str, tuple[int, ...]], ...]
    marks: tuple[int, ...]
    splits: float
    home: float
    slash: float
    forms: tuple[int, ...]

    @property
    def reforms(self) -> int:
        """How many of its chords come in several forms."""
        return sum(number > 1 for number in self.forms)


@dataclass(frozen=True, slots=True, eq=False)
class World:
    """The chords of a song, as written.

    `forms` has for each token, home first and the others by their share, the forms in which the
    song writes it with their shares in thousandths of the song's time. `slash` is the share of bars
    with a slash chord, `basses` are the slash chords by name.
    """

    minor: bool
    half: int
    forms: Mapping[str, Mapping[str, int]]
    slash: float
    basses: frozenset[str]
    extended: float
    reforms: int


@lru_cache(maxsize=65536)
def line_mark(tokens: tuple[str, ...]) -> int:
    """The mark of a line with these chords, as scripts/plan_tables.py makes it."""
    return int.from_bytes(sha256(" ".join(tokens).encode()).digest()[:2], "big")


@lru_cache(maxsize=4096)
def _read_line(text: str) -> tuple[BarPlan, ...]:
    """Read a line as scripts/plan_tables.py writes it."""
    return tuple(map(_read_bar, text.split("|")))


@lru_cache(maxsize=4096)
def _read_bar(text: str) -> BarPlan:
    """Read a bar as scripts/plan_tables.py writes it."""
    parts = text.split(" ")
    events = []
    for part in parts:
        name, _, length = part.partition("*")
        quarters = int(length) if length else max(1, QUARTERS // len(parts))
        chord, _, bass = name.partition("/")
        number = SILENT if chord == "-" else int(chord.rstrip(FORM_LETTERS))
        form = FORM_LETTERS.find(chord[-1]) + 1
        events.append(PlannedEvent(number, form, bass, quarters))
    return tuple(events)


def read_plan(row: Mapping[str, Any]) -> Plan:
    """The plan of a row of the table."""
    lines = tuple(map(_read_line, row["lines"]))
    sections = tuple((LETTERS[letter], tuple(numbers)) for letter, numbers in row["sections"])
    bars = [bar for _, numbers in sections for number in numbers for bar in lines[number]]
    moves = [event.chord for bar in bars for event in bar if event.chord != SILENT]
    moves = [chord for at, chord in enumerate(moves) if not at or moves[at - 1] != chord]
    last = lines[sections[-1][1][-1]][-1][-1].chord
    return Plan(
        minor=bool(row["minor"]),
        half=row["half"],
        chords=row["chords"],
        fades=bool(row["fades"]) or last != 0,
        lines=lines,
        derived=tuple(row["from"]),
        sections=sections,
        marks=tuple(row["marks"]),
        splits=sum(len(bar) > 1 for bar in bars) / len(bars),
        slash=sum(any(event.bass for event in bar) for bar in bars) / len(bars),
        home=moves.count(0) / max(1, len(moves)),
        forms=forms_needed(lines, row["chords"]),
    )


def forms_needed(lines: tuple[tuple[BarPlan, ...], ...], chords: int) -> tuple[int, ...]:
    """How many forms each of so many chords has in some lines."""
    forms = [0] * chords
    for line in lines:
        for bar in line:
            for event in bar:
                if event.chord != SILENT:
                    forms[event.chord] = max(forms[event.chord], event.form)
    return tuple(most + 1 for most in forms)


@cache
def all_plans() -> tuple[Plan, ...]:
    """All plans of the table."""
    return tuple(map(read_plan, read_table("plans")["plans"]))


@cache
def _plans(minor: bool) -> tuple[Plan, ...]:
    return tuple(plan for plan in all_plans() if plan.minor == minor)


@cache
def _worlds(minor: bool, half: int) -> tuple[World, ...]:
    found = []
    for row in table("worlds")["worlds"]:
        if bool(row["minor"]) != minor or row["half"] != half:
            continue
        forms = {intern(token): each for token, each in row["chords"].items()}
        extended = sum(n for each in forms.values() for form, n in each.items() if form)
        found.append(
            World(
                minor=minor,
                half=half,
                forms=forms,
                slash=row["slash"],
                basses=frozenset(row["basses"]),
                extended=extended / 1000,
                reforms=sum(len(each) > 1 for each in forms.values()),
            )
        )
    return tuple(found)


def _tilted(weights: list[float], values: list[float], factor: float) -> list[float]:
    """The weights, changed so that the weighted mean of the values is `factor` times their plain
    mean, where possible.

    The change is a factor of (1 + value) to a power that is found by bisection.
    """
    if factor == 1 or not any(values):
        return weights
    target = factor * sum(values) / len(values)
    low, high = -MOST_QUARTERS, MOST_QUARTERS
    while high - low > 1:
        middle = (low + high) // 2
        made = _biased(weights, values, middle)
        mean = fsum(map(mul, made, values)) / fsum(made)
        low, high = (middle, high) if mean < target else (low, middle)
    return _biased(weights, values, high)


def _biased(weights: list[float], values: list[float], quarters: int) -> list[float]:
    """The weights, each times (1 + value) to the power `quarters` / 4."""
    return [w * _power(1 + value, quarters) for w, value in zip(weights, values, strict=True)]


def _power(base: float, quarters: int) -> float:
    """`base` to the power `quarters` / 4, exactly rounded step by step on every machine."""
    result = _powers(base)[abs(quarters)]
    return result if quarters >= 0 else 1 / result


@lru_cache(maxsize=4096)
def _powers(base: float) -> tuple[float, ...]:
    """`base` to the powers 0, 1/4, 2/4 up to `MOST_QUARTERS` / 4."""
    return tuple(accumulate(repeat(sqrt(sqrt(base)), MOST_QUARTERS), mul, initial=1.0))


@lru_cache(maxsize=256)
def _plan_choice(
    minor: bool, fades: bool, splits: float, slash: float, home: float, most: int
) -> WeightedChoice[Plan]:
    """The plans that fade or do not, of at most `most` chords, weighted so that the shares of split
    bars, of slash chords and of home are `splits`, `slash` and `home` times those of all."""
    plans = [plan for plan in _plans(minor) if plan.fades == fades and plan.chords <= most]
    plans = plans or list(_plans(minor))
    weights = [1.0] * len(plans)
    weights = _tilted(weights, [plan.home for plan in plans], min(home, MOST_TILT))
    weights = _tilted(weights, [plan.slash for plan in plans], min(slash, MOST_TILT))
    weights = _tilted(weights, [plan.splits for plan in plans], min(splits, MOST_TILT))
    return WeightedChoice(zip(plans, weights, strict=True))


def draw_plan(
    rng: random.Random,
    minor: bool,
    fades: bool,
    splits: float,
    slash: float,
    home: float,
    most: int,
) -> Plan:
    """Draw a plan.

    `fades` says whether the song fades out; `splits`, `slash` and `home` are the wanted shares of
    split bars, slash chords and home against those of real songs; `most` is the highest number of
    chords.
    """
    choice = _plan_choice(minor, fades, round(splits, 1), round(slash, 1), home, most)
    return choice.choose(rng)


@cache
def _near_worlds(minor: bool, half: int, chords: int) -> tuple[World, ...]:
    """At least `LEAST_WORLDS` worlds of a half with about so many chords."""
    worlds = _worlds(minor, half)
    sizes = sorted({len(world.forms) for world in worlds}, key=lambda size: abs(size - chords))
    near: list[World] = []
    for size in sizes:
        near += [world for world in worlds if len(world.forms) == size]
        if len(near) >= LEAST_WORLDS:
            break
    return tuple(near)


@lru_cache(maxsize=4096)
def _world_choice(
    minor: bool,
    half: int,
    chords: int,
    reforms: int,
    tilt: tuple[tuple[str, float], ...],
    extended: float,
    slash: float,
) -> WeightedChoice[World]:
    """The worlds that fit a plan, weighted by a style."""
    wanted = _near_worlds(minor, half, chords)
    leanings = {token: min(lean, MOST_LEAN) for token, lean in tilt}
    weights = []
    for world in wanted:
        weight = _power(0.5, 2 * abs(min(world.reforms, 4) - min(reforms, 4)))
        for token in world.forms:
            if token in leanings:
                weight *= leanings[token] * leanings[token]
        weights.append(weight)
    weights = _tilted(weights, [world.slash for world in wanted], slash)
    weights = _tilted(weights, [world.extended for world in wanted], extended)
    return WeightedChoice(zip(wanted, weights, strict=True))


def draw_world(
    rng: random.Random,
    plan: Plan,
    tilt: tuple[tuple[str, float], ...],
    extended: float,
    slash: float,
) -> World:
    """Draw a world with about as many chords as a plan, from the other half of the source.

    `tilt` has a factor for some tokens; `extended` and `slash` are the wanted shares of
    extended and slash chords against those of real songs.
    """
    chosen = _world_choice(
        plan.minor,
        1 - plan.half,
        plan.chords,
        min(plan.reforms, 4),
        tilt,
        round(extended, 1),
        round(slash, 1),
    )
    return chosen.choose(rng)
