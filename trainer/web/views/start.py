"""The start page: where to go on, the course with its results, the songs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from trainer.exercise import Level

if TYPE_CHECKING:
    from trainer.store import LevelBest

__all__ = ["LevelRow", "level_rows"]


@dataclass(frozen=True, slots=True)
class LevelRow:
    """A level and how it went; `best` None is not tried yet."""

    number: int
    title: str
    introduces: str
    trains: str
    pass_mark: float
    best: float | None
    attempts: int

    @property
    def passed(self) -> bool:
        """Whether the pass mark was reached."""
        return self.best is not None and self.best >= self.pass_mark


def level_rows(course: tuple[Level, ...], best: Mapping[int, LevelBest]) -> tuple[LevelRow, ...]:
    """Every level with its best result."""
    return tuple(
        LevelRow(
            level.number,
            level.title,
            level.introduces,
            ", ".join(level.skills),
            level.pass_mark,
            best[level.number].score if level.number in best else None,
            best[level.number].attempts if level.number in best else 0,
        )
        for level in course
    )
