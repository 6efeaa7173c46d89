"""Assign the chords of a world to the numbers of a plan.

Both are in the order of how long their chords last. From there pairs of chords are exchanged,
accepted by how well the chords then fit the facts of the plan (N. Metropolis et al., "Equation of
state calculations by fast computing machines", 1953).
"""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from operator import itemgetter

from trainer.generate.harmony import mode_name
from trainer.generate.likelihood import Values, odds, thousandths_of, values_of
from trainer.generate.plan_facts import facts_by_numbers
from trainer.generate.plans import Plan

__all__ = ["Assignment", "forget_sums"]

# A style's leaning to a chord counts up to this factor, once if the plan moves to the chord.
MOST_TILT = 2.5
# The groups of facts that are moves to a number.
MOVING = ("pair", "start S", "start L")
# So many sums of the same groups are kept.
MOST_SUMS = 400


# Values by chords, and the chords of some numbers out of those of all.
_Values = Mapping[tuple[str, ...], int]
_Getter = Callable[[Sequence[str]], tuple[str, ...]]


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
def _sums(mode: str, groups: tuple[str, ...]) -> _Values:
    """The sums of the values of some groups, the same for all plans that have facts of them."""
    parts = [values_of(mode, group) for group in groups]
    return parts[0] if len(parts) == 1 else _Sums(parts)


class _Facts:
    """The facts of a plan by the numbers that they are about, with the values of their groups.

    `moved` are the numbers that the plan moves to. Numbers are kept as getters of their chords from
    the chords of all numbers.
    """

    __slots__ = ("moved", "pairs", "singles", "three", "threes")

    def __init__(self, plan: Plan) -> None:
        mode = mode_name(plan.minor)
        self.moved: set[int] = set()
        self.singles: list[tuple[int, _Values]] = []
        self.pairs: list[tuple[_Getter, _Values]] = []
        self.threes: list[_Getter] = []
        self.three = values_of(mode, "three")
        for numbers, groups in facts_by_numbers(plan).items():
            if len(numbers) == 3:
                self.threes.append(itemgetter(*numbers))
            elif len(numbers) == 2:
                self.pairs.append((itemgetter(*numbers), _sums(mode, tuple(sorted(groups)))))
                if not groups.isdisjoint(MOVING):
                    self.moved.add(numbers[1])
            else:
                self.singles.append((numbers[0], _sums(mode, tuple(sorted(groups)))))

    def worth(self, tokens: Sequence[str]) -> int:
        """How well the facts go with the chords of the numbers, in thousandths."""
        total = 0
        for number, values in self.singles:
            total += values[tokens[number],]
        for pair, values in self.pairs:
            total += values[pair(tokens)]
        three = self.three
        for numbers in self.threes:
            total += three[numbers(tokens)]
        return total


@lru_cache(maxsize=4)
def _facts(plan: Plan) -> _Facts:
    return _Facts(plan)


def forget_sums() -> None:
    """Forget all sums of values, because values have changed (scripts/tune_likelihoods.py)."""
    _facts.cache_clear()
    _sums.cache_clear()


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
            token: thousandths_of(min(tilt[token], MOST_TILT))
            for token in self.tokens
            if token in tilt
        }
        self._known: dict[tuple[str, ...], int] = {}
        self.worth = self._worth()

    def _worth(self) -> int:
        """How well the chords of the plan's numbers fit; the same ones come up again and again."""
        key = tuple(self.tokens[: self._count + 1])
        found = self._known.get(key)
        if found is None:
            found = self._facts.worth(key)
            if self._lean:
                for number in self._facts.moved:
                    found += self._lean.get(key[number], 0)
            self._known[key] = found
        return found

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
