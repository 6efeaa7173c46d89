from __future__ import annotations

from collections.abc import Mapping

from tests.store.samples import NOW
from trainer.classroom.skill_sums import AttemptKey, SkillSums, Sums


def wren(number: int) -> AttemptKey:
    """An attempt of Wren's."""
    return "wren", number, NOW


def zoe(number: int) -> AttemptKey:
    """An attempt of Zoe's."""
    return "zoe", number, NOW


class Maker:
    """Makes sums, and notes for which attempts it was asked."""

    def __init__(self) -> None:
        self.asked: list[AttemptKey] = []

    def __call__(self, keys: list[AttemptKey]) -> Mapping[AttemptKey, Sums]:
        self.asked += keys
        return {key: {"push": (key[1], 0.5, 0)} for key in keys}


def test_sums_are_worked_out_once() -> None:
    """What is kept is not made again; what is lacking is, and all that was asked for is given."""
    sums, make = SkillSums(), Maker()
    first = sums.of([wren(1), zoe(2)], make)
    second = sums.of([zoe(2), zoe(3)], make)
    assert make.asked == [wren(1), zoe(2), zoe(3)]
    assert first[zoe(2)] == second[zoe(2)] == {"push": (2, 0.5, 0)}
    assert list(second) == [zoe(2), zoe(3)]


def test_no_more_than_so_many_are_kept() -> None:
    """Those that were not looked at longest go first."""
    sums, make = SkillSums(most=2), Maker()
    sums.of([wren(1), wren(2)], make)
    sums.of([wren(1)], make)
    sums.of([wren(3)], make)
    make.asked.clear()
    assert len(sums.of([wren(1), wren(2), wren(3)], make)) == 3
    assert make.asked == [wren(2)]
