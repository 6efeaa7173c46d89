"""The history: attempts sorted and filtered, a page at a time."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from trainer.store import AttemptRecord

__all__ = ["KINDS", "ORDERS", "PAGE", "HistoryView", "history_view", "say_kind"]

PAGE = 50
# What may be asked for beside the levels: its name in the address, the kind, in words.
KINDS = (
    ("sets", "daily set", "daily sets"),
    ("placement", "finding your level", "finding your level"),
    ("speed", "speed test", "speed tests"),
    ("songs", "song", "songs of the house band"),
    ("recipes", "recipe", "recipes"),
)
ORDERS: dict[str, tuple[str, Callable[[AttemptRecord], Any], bool]] = {
    "when": ("When", lambda one: one.finished_at, True),
    "song": ("Song", lambda one: one.title.casefold(), False),
    "level": ("Kind", lambda one: -1 if one.level is None else one.level, False),
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
    kinds: Mapping[str, str],
    *,
    kind: str = "",
    order: str = "when",
    turned: bool = False,
    page: int = 1,
) -> HistoryView:
    """The attempts of a kind in an order.

    `kinds` are those of the exercises of no level (`Sets.kinds`). `kind` is "" for all, a name of
    `KINDS`, or a level's number; `order` is one of `ORDERS`, the other way round if `turned`. What
    is not known counts as not said.
    """
    order = order if order in ORDERS else "when"
    _, key, down = ORDERS[order]
    wanted = [one for one in attempts if _is_kind(one, kind, kinds)]
    wanted.sort(key=key, reverse=down != turned)
    pages = max(1, -(-len(wanted) // PAGE))
    page = min(max(1, page), pages)
    levels = sorted({one.level for one in attempts if one.level is not None})
    shown = tuple(wanted[(page - 1) * PAGE : page * PAGE])
    return HistoryView(shown, tuple(levels), len(wanted), page, pages, order, turned)


def say_kind(level: int | None, exercise_id: str, kinds: Mapping[str, str]) -> str:
    """What an attempt was at, in words: "level 6", or its kind of `Sets.kinds`."""
    return kinds.get(exercise_id, "recipe") if level is None else f"level {level}"


def _is_kind(one: AttemptRecord, kind: str, kinds: Mapping[str, str]) -> bool:
    if kind.isdecimal():
        return one.level == int(kind)
    wanted = next((each for name, each, _ in KINDS if name == kind), None)
    return wanted is None or say_kind(one.level, one.exercise_id, kinds) == wanted
