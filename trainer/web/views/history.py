"""The history: attempts sorted and filtered, a page at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainer.store import AttemptRecord

__all__ = ["ORDERS", "PAGE", "HistoryView", "history_view"]

PAGE = 50
ORDERS: dict[str, tuple[str, Callable[[AttemptRecord], Any], bool]] = {
    "when": ("When", lambda one: one.finished_at, True),
    "song": ("Song", lambda one: one.title.casefold(), False),
    "level": ("Level", lambda one: -1 if one.level is None else one.level, False),
    "score": ("Score", lambda one: one.score, True),
    "listens": ("Listens", lambda one: one.listens, False),
}


@dataclass(frozen=True, slots=True)
class HistoryView:
    """One page of attempts. `levels` are those there are attempts on; pages count from 1."""

    attempts: tuple[AttemptRecord, ...]
    levels: tuple[int, ...]
    found: int
    page: int
    pages: int
    order: str
    turned: bool


def history_view(
    attempts: Sequence[AttemptRecord],
    *,
    kind: str = "",
    order: str = "when",
    turned: bool = False,
    page: int = 1,
) -> HistoryView:
    """The attempts of a kind in an order.

    `kind` is "" for all, "songs" for the hand-written ones, "recipes" for those outside the course,
    or a level's number; `order` is one of `ORDERS`, the other way round if `turned`. What is not
    known counts as not said.
    """
    order = order if order in ORDERS else "when"
    _, key, down = ORDERS[order]
    wanted = [one for one in attempts if _is_kind(one, kind)]
    wanted.sort(key=key, reverse=down != turned)
    pages = max(1, -(-len(wanted) // PAGE))
    page = min(max(1, page), pages)
    levels = sorted({one.level for one in attempts if one.level is not None})
    shown = tuple(wanted[(page - 1) * PAGE : page * PAGE])
    return HistoryView(shown, tuple(levels), len(wanted), page, pages, order, turned)


def _is_kind(one: AttemptRecord, kind: str) -> bool:
    if kind == "songs":
        return one.origin == "song"
    if kind == "recipes":
        return one.level is None and one.origin != "song"
    return one.level == int(kind) if kind.isdecimal() else True
