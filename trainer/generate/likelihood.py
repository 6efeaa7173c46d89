"""How well chords go with a plan, in thousandths of a natural logarithm.

Values are whole numbers from the table "likelihoods" (scripts/likelihood_tables.py), so their sums
are the same on every machine. What is worth k thousandths is `LEVELS` less likely than what is
worth more, found by division alone.
"""

from __future__ import annotations

from array import array
from bisect import bisect_left
from functools import cache
from itertools import accumulate, repeat
from operator import truediv
from sys import intern

from trainer.generate.tables import table

__all__ = ["Values", "odds", "thousandths_of", "values_of"]

# `_FALLING[k]` is about exp(-k / 1000).
_MOST = 16000
_FALLING = array("d", accumulate(repeat(1.0010005, _MOST), truediv, initial=1.0))
_NEGATED = array("d", (-each for each in _FALLING))
_KEPT = 200_000


class Values(dict[tuple[str, ...], int]):
    """The values of a group by chords; those that the table does not name have the value of its
    star, or 0."""

    def __missing__(self, key: tuple[str, ...]) -> int:
        value = self.get((*key[:-1], "*"), 0)
        if len(self) < _KEPT:
            self[key] = value
        return value


@cache
def values_of(mode: str, group: str) -> Values:
    """The values of a group of facts in a mode."""
    row: dict[str, int] = table("likelihoods")[mode].get(group, {})
    return Values((tuple(map(intern, names.split(" "))), value) for names, value in row.items())


def odds(below: int) -> float:
    """How likely something is that is worth so many thousandths less than something else."""
    return _FALLING[min(below, _MOST)] if below > 0 else 1.0


def thousandths_of(factor: float) -> int:
    """The thousandths that a factor is worth, a negative number for one below 1."""
    if factor < 1:
        return -thousandths_of(1 / factor)
    return bisect_left(_NEGATED, -1 / factor)
