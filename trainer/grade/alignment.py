"""What an alignment is."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["Alignment", "Pair"]

# A bar of the reference and one of the answer, counted from 0; None beside a gap.
Pair = tuple[int | None, int | None]


@dataclass(frozen=True, slots=True)
class Alignment:
    """Pairs in order, each bar once; `lost` is the cost in bars.

    `joins` are the rows, two by two, in which one bar stands for two.
    """

    pairs: list[Pair]
    joins: list[tuple[int, int]]
    lost: float
