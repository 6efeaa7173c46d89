"""Assign the chords of a world to the numbers of a plan.

Both are in the order of how long their chords last. From there pairs of chords are exchanged,
accepted by how well the chords then fit the facts of the plan (N. Metropolis et al., "Equation of
state calculations by fast computing machines", 1953).
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Mapping, Sequence
from functools import lru_cache

from trainer.generate.harmony import mode_name
from trainer.generate.likelihood import Values, odds, thousandths_of, values_of
from trainer.generate.plan_facts import facts_of
from trainer.generate.plans import Plan

__all__ = ["Assignment"]

# A style's leaning to a chord counts for so many of the ways in which a plan moves to it.
MOST_COUNTED = 1
MOST_TILT = 2.5
# So many sums of the same groups are kept.
MOST_SUMS = 400


class _Sums(dict[tuple[str, ...], int]):
    """The sums of the values of several groups for some chords."""

    def __init__(self, parts: Sequence[Values]) -> None:
        self.parts = parts

    def __missing__(self, key: tuple[str, ...]) -> int:
        value = 0
        for part in self.parts:
            value += part[key]
        if len(self) < MOST_SUMS:
            self[key] = value
        return value


@lru_cache(maxsize=2048)
def _sums(mode: str, groups: tuple[str, ...]) -> Mapping[tuple[str, ...], int]:
    """The sums of the values of some groups, the same for all plans that have facts of them."""
    parts = [values_of(mode, group) for group in groups]
    return parts[0] if len(parts) == 1 else _Sums(parts)


class _Facts:
    """The facts of a plan by the numbers that they are about, with the values of their groups."""

    __slots__ = ("moved", "pairs", "singles", "threes")

    def __init__(self, plan: Plan) -> None:
        mode = mode_name(plan.minor)
        groups: dict[tuple[int, ...], list[str]] = {}
        moved: Counter[int] = Counter()
        for group, numbers in facts_of(plan):
            groups.setdefault(numbers, []).append(group)
            if group in ("pair", "start S", "start L"):
                moved[numbers[1]] += 1
        sums = {numbers: _sums(mode, tuple(sorted(found))) for numbers, found in groups.items()}
        self.moved = [min(moved[number], MOST_COUNTED) for number in range(plan.chords)]
        self.singles = [(*key, each) for key, each in sums.items() if len(key) == 1]
        self.pairs = [(*key, each) for key, each in sums.items() if len(key) == 2]
        self.threes = [(*key, each) for key, each in sums.items() if len(key) == 3]

    def worth(self, tokens: Sequence[str]) -> int:
        """How well the facts go with the chords of the numbers, in thousandths."""
        total = 0
        for a, sums in self.singles:
            total += sums[tokens[a],]
        for a, b, sums in self.pairs:
            total += sums[tokens[a], tokens[b]]
        for a, b, c, sums in self.threes:
            total += sums[tokens[a], tokens[b], tokens[c]]
        return total


@lru_cache(maxsize=256)
def _facts(plan: Plan) -> _Facts:
    return _Facts(plan)


class Assignment:
    """Chords for the numbers of a plan: `tokens`, of which the plan has the first `plan.chords`.

    `worth` says in thousandths how well they fit.
    """

    def __init__(
        self, plan: Plan, home: str, others: Sequence[str], tilt: Mapping[str, float]
    ) -> None:
        self._facts = _facts(plan)
        self._count = plan.chords - 1
        # A plan of more chords than the world has takes some of them twice; one of fewer may take
        # any of them.
        chords = [others[at % len(others)] if others else home for at in range(self._count)]
        self.tokens = [home, *chords, *others[self._count :]]
        self._lean = {
            token: thousandths_of(min(tilt.get(token, 1.0), MOST_TILT)) for token in self.tokens
        }
        self._known: dict[tuple[str, ...], int] = {}
        self.worth = self._worth()

    def _worth(self) -> int:
        """How well the chords of the plan's numbers fit; the same ones come up again and again."""
        key = tuple(self.tokens[: self._count + 1])
        if key not in self._known:
            self._known[key] = self._found_worth()
        return self._known[key]

    def _found_worth(self) -> int:
        leaning = 0
        for token, moved in zip(self.tokens, self._facts.moved, strict=False):
            leaning += self._lean[token] * moved
        return self._facts.worth(self.tokens) + leaning

    def exchange(self, rng: random.Random, proposals: int) -> None:
        """Exchange chords of the plan with each other and with those that it has not, as often as
        an exchange is accepted, of so many proposed for each chord."""
        places = len(self.tokens) - 1
        if not self._count or places < 2:
            return
        tokens = self.tokens
        for _ in range(proposals * min(places, 8)):
            a = 1 + int(rng.random() * self._count)
            b = 1 + int(rng.random() * places)
            if tokens[a] == tokens[b]:
                continue
            tokens[a], tokens[b] = tokens[b], tokens[a]
            trial = self._worth()
            if rng.random() < odds(self.worth - trial):
                self.worth = trial
            else:
                tokens[a], tokens[b] = tokens[b], tokens[a]
