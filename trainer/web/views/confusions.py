"""Chords that the learner mixes up: chords played and chords written, as a table of shades."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.store import ConfusionCount

__all__ = ["ConfusionCell", "ConfusionRow", "ConfusionTable", "confusion_table"]

MOST = 9
SHADES = 5
LEFT_OUT, OTHER = "nothing", "other"


@dataclass(frozen=True, slots=True)
class ConfusionCell:
    """How often one was written for the other: the share of the times it was played, the shade
    from 0 (never) to `SHADES`, whether it is right."""

    chords: int
    share: float
    shade: int
    right: bool


@dataclass(frozen=True, slots=True)
class ConfusionRow:
    """One chord as played, and what was written for it."""

    played: str
    chords: int
    cells: tuple[ConfusionCell, ...]


@dataclass(frozen=True, slots=True)
class ConfusionTable:
    """The chords most mistaken; columns are those written."""

    columns: tuple[str, ...]
    rows: tuple[ConfusionRow, ...]


def confusion_table(confusions: Sequence[ConfusionCount]) -> ConfusionTable:
    """The table of the chords that are mistaken most; empty if nothing is."""
    wrong: Counter[str] = Counter()
    played: Counter[str] = Counter()
    counts: Counter[tuple[str, str]] = Counter()
    for each in confusions:
        counts[each.played, each.written] += each.chords
        played[each.played] += each.chords
        if each.played != each.written and each.played:
            wrong[each.played] += each.chords
            if each.written:
                wrong[each.written] += each.chords
    names = sorted((name for name, _ in wrong.most_common(MOST)), key=_order)
    rows = tuple(_row(name, names, counts, played[name]) for name in names if played[name])
    return ConfusionTable((*names, OTHER, LEFT_OUT), rows)


def _row(
    name: str, names: Sequence[str], counts: Counter[tuple[str, str]], total: int
) -> ConfusionRow:
    written = [counts[name, other] for other in names]
    missing = counts[name, ""]
    columns = [*written, total - sum(written) - missing, missing]
    return ConfusionRow(
        name,
        total,
        tuple(
            ConfusionCell(number, number / total, _shade(number / total), other == name)
            for number, other in zip(columns, [*names, OTHER, LEFT_OUT], strict=True)
        ),
    )


def _shade(share: float) -> int:
    return min(SHADES, ceil(share * SHADES - 1e-9))


def _order(name: str) -> tuple[str, str]:
    """By the number, without its accidental."""
    return name.lstrip("b#"), name
