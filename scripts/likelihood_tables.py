"""Say how likely chords are in the places that plans have for them.

The facts of a plan (`trainer.generate.plan_facts`) are counted with the chords that its song has.
The table has a value for each group and chords: a logarithm in thousandths, times the weight of the
group, of how much likelier the last chord is there than a coarser estimate says. A star stands for
any other last chord. The sum over all facts of a plan says how well chords go with it.

The weights are near those of a logistic regression that tells the chords of each real song from
the same with two of them exchanged or with one from elsewhere (scripts/fit_weights.py). They are
where `tune_likelihoods` begins.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from math import log
from typing import Any

from corpus import Song
from plan_tables import DEGREES, half_of, is_usable, plan_of, ranked_chords

from trainer.generate.plan_facts import Fact, facts_of
from trainer.generate.plans import read_plan

__all__ = ["collect_likelihoods"]

# By the first word of a group: its weight, and how many counts the coarser estimate is worth.
# Changes: pair (of two numbers), motion (the same by interval), three (after two
# others), place (in a line), start (of a line after the number before it), first (of the song),
# split (in one bar), instead (of the chord of the line that is varied). Single numbers: send (the
# end of a section before another), kind (of section), share (of time), forms (how many), bass.
WEIGHTS = {
    "pair": (0.38, 4.0),
    "motion": (0.15, 4.0),
    "three": (0.2, 8.0),
    "place": (0.21, 12.0),
    "start": (0.31, 6.0),
    "first": (0.1, 6.0),
    "split": (0.35, 10.0),
    "instead": (0.25, 8.0),
    "send": (0.2, 8.0),
    "kind": (0.2, 20.0),
    "share": (0.3, 4.0),
    "forms": (0.3, 6.0),
    "bass": (0.4, 20.0),
    "bass to": (0.5, 15.0),
    "bass from": (0.5, 15.0),
}
# Smaller differences, in thousandths, are left out.
LEAST_VALUE = 15
# Groups whose name says what is likelier, given the chords.
NAMED = ("share", "forms", "bass", "bass to", "bass from")
KINDS = 40

Counts = dict[str, Counter[tuple[str, ...]]]


def family(group: str) -> str:
    """Return the words by which a group has its weight."""
    words = group.split(" ")
    return " ".join(words[:2]) if words[0] == "bass" and len(words) == 3 else words[0]


def motion(a: str, b: str) -> tuple[str, str]:
    """Return the quality of a chord, and the interval to the next with its quality."""
    low, high = a.rstrip("-o"), b.rstrip("-o")
    up = (DEGREES.index(high) - DEGREES.index(low)) % 12
    return a[len(low) :], f"{up}{b[len(high) :]}"


class ModeLikelihoods:
    """The counts of one mode, and the values that follow from them."""

    def __init__(self) -> None:
        self.counts: Counts = defaultdict(Counter)
        self.totals: dict[str, Counter[tuple[str, ...]]] = defaultdict(Counter)

    def add(self, facts: tuple[Fact, ...], chords: list[str], times: int = 1) -> None:
        """Count the facts of a song, or take them away again (`times` -1)."""
        for chord in chords:
            self._count("song", (chord,), times)
        for group, numbers in facts:
            tokens = tuple(chords[number] for number in numbers)
            self._count(group, tokens, times)
            if group == "pair":
                self._count("motion", motion(*tokens), times)
                self._count("one", tokens[1:], times)

    def _count(self, group: str, tokens: tuple[str, ...], times: int) -> None:
        self.counts[group][tokens] += times
        self.totals[group][tokens[:-1]] += times

    def one(self, chord: str) -> float:
        """Return the chance of a chord."""
        return (self.counts["one"][chord,] + 1 / KINDS) / (self.totals["one"][()] + 1)

    def chance(self, group: str, tokens: tuple[str, ...]) -> float:
        """Return the chance of the last chord after the others."""
        least = WEIGHTS[family(group)][1]
        seen, total = self.counts[group][tokens], self.totals[group][tokens[:-1]]
        return (seen + least * self.coarser(group, tokens)) / (total + least)

    def coarser(self, group: str, tokens: tuple[str, ...]) -> float:
        """Return the coarser estimate of the same."""
        if group == "three":
            return self.chance("pair", tokens[1:])
        if family(group) in ("place", "split"):
            return self.chance("pair", tokens)
        if group == "motion":
            seen = sum(n for (_, up), n in self.counts[group].items() if up == tokens[1])
            return (seen + 1) / (self.counts[group].total() + KINDS)
        return self.one(tokens[-1])

    def values(self) -> dict[str, dict[str, int]]:
        """Return the values of all groups."""
        made: dict[str, dict[str, int]] = {}
        for group in sorted(self.counts):
            name = family(group)
            if name in ("one", "motion", "song"):
                continue
            if name in NAMED:
                made[group] = self._named(group)
            elif name == "pair":
                made[group] = self._pairs()
            else:
                made[group] = self._following(group)
        return made

    def _following(self, group: str) -> dict[str, int]:
        weight, least = WEIGHTS[family(group)]
        row = {}
        for tokens in sorted(self.counts[group]):
            total = self.totals[group][tokens[:-1]]
            ratio = self.chance(group, tokens) / self.coarser(group, tokens)
            value, other = thousandths(weight, ratio), thousandths(weight, least / (total + least))
            row[" ".join((*tokens[:-1], "*"))] = other
            if abs(value - other) >= LEAST_VALUE:
                row[" ".join(tokens)] = value
        return row

    def _pairs(self) -> dict[str, int]:
        """Return the values of changes, which join how usual the pair and the motion are."""
        chords = sorted(chord for (chord,) in self.counts["one"])
        row = {}
        for a in chords:
            for b in chords:
                if a != b:
                    after = self.chance("pair", (a, b)) / self.one(b)
                    moved = self.chance("motion", motion(a, b)) / self.coarser(
                        "motion", motion(a, b)
                    )
                    row[f"{a} {b}"] = thousandths(WEIGHTS["pair"][0], after) + thousandths(
                        WEIGHTS["motion"][0], moved
                    )
        return row

    def _named(self, group: str) -> dict[str, int]:
        """Return the values of a group whose name says what is likelier."""
        weight = WEIGHTS[family(group)][0]
        row = {
            " ".join(tokens): thousandths(weight, self.named_ratio(group, tokens))
            for tokens in sorted(self._bases(group))
        }
        return {name: value for name, value in row.items() if abs(value) >= LEAST_VALUE}

    def named_ratio(self, group: str, tokens: tuple[str, ...]) -> float:
        """Return how much likelier what the group says is with some chords than with any, or, for a
        bass before or after another chord, than with the same chord before or after any."""
        least = WEIGHTS[family(group)][1]
        seen, total = self.counts[group][tokens], self._base(group, tokens)
        likes = [each for each in self._bases(group) if each[:-1] == tokens[:-1]]
        every = sum(self.counts[group][each] for each in likes)
        coarse = (every + 0.1) / (sum(self._base(group, each) for each in likes) + 1)
        return (seen + least * coarse) / (total + least) / coarse

    def _bases(self, group: str) -> list[tuple[str, ...]]:
        """Return the chords of which the group may say something."""
        name = family(group)
        if name == "bass to":
            return list(self.counts["pair"])
        if name == "bass from":
            return [(b, a) for a, b in self.counts["pair"]]
        return list(self.counts["song"])

    def _base(self, group: str, tokens: tuple[str, ...]) -> int:
        """Return how often these chords occur."""
        name = family(group)
        if name == "bass from":
            return self.counts["pair"][tokens[::-1]]
        return self.counts["pair" if name == "bass to" else "song"][tokens]


def thousandths(weight: float, ratio: float) -> int:
    """Return the logarithm of a ratio in thousandths, weighted."""
    return round(1000 * weight * log(ratio))


def collect_likelihoods(songs: list[Song]) -> dict[str, Any]:
    """Return the values of each mode."""
    modes = {"major": ModeLikelihoods(), "minor": ModeLikelihoods()}
    for at, song in enumerate(songs):
        row = plan_of(song, half_of(at)) if is_usable(song) else None
        if row is not None:
            facts = facts_of(read_plan(row))
            modes["minor" if row["minor"] else "major"].add(facts, ranked_chords(song))
    return {mode: counts.values() for mode, counts in modes.items()}
