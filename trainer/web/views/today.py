"""The day's sets as they are shown: each item with its reason and what became of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from trainer.store import AttemptRecord, SetItem

__all__ = ["ItemRow", "SetView", "TodayView", "today_view"]

PLACEMENT = "placement"


@dataclass(frozen=True, slots=True)
class ItemRow:
    """One item. `state` is "open", "begun", "done" or "skipped"; `result` is the attempt's id."""

    position: int
    reason: str
    state: str
    minutes: float | None
    score: float | None
    result: int | None


@dataclass(frozen=True, slots=True)
class SetView:
    """One set of the day, numbered from 1; `placing` finds the level."""

    day: date
    number: int
    placing: bool
    items: tuple[ItemRow, ...]

    @property
    def waiting(self) -> tuple[ItemRow, ...]:
        """The items still to do, the next first."""
        return tuple(item for item in self.items if item.state in ("open", "begun"))

    @property
    def done(self) -> int:
        """How many are done."""
        return sum(item.state == "done" for item in self.items)


@dataclass(frozen=True, slots=True)
class TodayView:
    """All sets of the day so far, the present one last."""

    sets: tuple[SetView, ...]

    @property
    def present(self) -> SetView | None:
        """The set one is at; None before the first is planned."""
        return self.sets[-1] if self.sets else None

    @property
    def is_done(self) -> bool:
        """Whether the present set has nothing left, and is no placement, which a set follows."""
        present = self.present
        return present is not None and not present.waiting and not present.placing

    @property
    def is_begun(self) -> bool:
        """Whether anything of the present set was done or begun."""
        present = self.present
        return present is not None and any(item.state != "open" for item in present.items)


def today_view(
    items: Sequence[SetItem], newest: Sequence[AttemptRecord], drafted: str | None
) -> TodayView:
    """A day's items, in their order, with the attempts at them.

    Parameters
    ----------
    newest : the learner's last attempts, newest first.
    drafted : the exercise last written on and not handed in.
    """
    attempts = {one.exercise_id: one for one in reversed(newest)}
    sets = []
    for number, inside in groupby(items, key=lambda item: item.number):
        rows = list(inside)
        placing = rows[0].kind == PLACEMENT
        sets.append(
            SetView(rows[0].day, number, placing, tuple(_row(r, attempts, drafted) for r in rows))
        )
    return TodayView(tuple(sets))


def _row(item: SetItem, attempts: dict[str, AttemptRecord], drafted: str | None) -> ItemRow:
    attempt = attempts.get(item.exercise_id or "") if item.status == "done" else None
    begun = item.status == "open" and item.exercise_id is not None and item.exercise_id == drafted
    return ItemRow(
        item.position,
        item.reason,
        "begun" if begun else item.status,
        item.minutes,
        attempt.score if attempt else None,
        attempt.id if attempt else None,
    )
