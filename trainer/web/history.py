"""History: attempts, sorted and filtered, each result again."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from fastapi import APIRouter
from fastapi.responses import Response

from trainer.drill import attempt_kind, exercise_kinds, level_of
from trainer.store import AttemptRecord
from trainer.web.context import Context, LearnerContext

__all__ = ["KINDS", "ORDERS", "PAGE", "HistoryView", "history_view", "router"]

router = APIRouter()
# Any other order sorts only this many of the newest attempts, since nobody pages through more.
MOST_SORTED = 5_000
PAGE = 50
# The id of no level.
NO_LEVEL = ""
# What may be asked for beside the levels: its name in the address, the kind, in words.
KINDS = (
    ("sets", "daily set", "daily sets"),
    ("placement", "finding your level", "finding your level"),
    ("speed", "speed test", "speed tests"),
    ("songs", "song", "songs by the house band"),
    ("bars", "bars practised", "bars practised"),
    ("recipes", "recipe", "recipes"),
    ("class", "assignment", "work for a class"),
)


def _level_number(one: AttemptRecord) -> int | None:
    """The number that the level of an attempt has today; None if it is of no level of the
    course."""
    level = level_of(one.level_id)
    return level.number if level is not None else None


ORDERS: dict[str, tuple[str, Callable[[AttemptRecord], Any], bool]] = {
    "when": ("When", lambda one: one.finished_at, True),
    "song": ("Song", lambda one: one.title.casefold(), False),
    "level": ("Kind", lambda one: _level_number(one) or -1, False),
    "score": ("Score", lambda one: one.score, True),
    "listens": ("Listens", lambda one: one.listens, False),
}


@dataclass(frozen=True, slots=True)
class HistoryView:
    """One page of attempts. `levels` are the numbers of those there are attempts on; pages count
    from 1."""

    attempts: tuple[AttemptRecord, ...]
    levels: tuple[int, ...]
    found: int
    page: int
    pages: int
    order: str
    reverse: bool


@router.get("/history")
def history(
    context: Context, kind: str = "", order: str = "when", reverse: str = "", page: str = "1"
) -> Response:
    """The attempts made so far."""
    store, learner = context.store, context.learner
    number = int(page) if page.isdecimal() and len(page) < 9 else 1
    if order == "when" and reverse != "1" and (not kind or (kind.isdecimal() and len(kind) < 9)):
        view = _newest(context, kind, number)
        kinds = exercise_kinds(store, learner, view.attempts)
    else:
        newest = [
            _without_result(one) if one.is_hidden(context.clock()) else one
            for one in store.attempts.history(learner, limit=MOST_SORTED)
        ]
        kinds = exercise_kinds(store, learner)
        view = history_view(
            newest, kinds, kind=kind, order=order, reverse=reverse == "1", page=number
        )
    hidden = {one.id for one in view.attempts if one.is_hidden(context.clock())}
    values = {
        "view": view,
        "hidden": hidden,
        "kind": kind,
        "kinds": KINDS,
        "kind_names": {one.id: attempt_kind(one, kinds) for one in view.attempts},
        "orders": ORDERS,
    }
    return context.page("history.html", values)


def _without_result(one: AttemptRecord) -> AttemptRecord:
    """An attempt whose result is not shown yet, so that its place among others tells nothing."""
    return replace(one, score=-1.0, passed=None, first_pass=False)


def _newest(context: LearnerContext, kind: str, page: int) -> HistoryView:
    """A page of the newest, of one level or of all, without reading the rest."""
    attempts = context.store.attempts
    level = context.level(int(kind)) if kind else None
    level_id = None if not kind else level.id if level is not None else NO_LEVEL
    found = attempts.count(context.learner, level_id)
    pages = max(1, -(-found // PAGE))
    page = min(max(1, page), pages)
    shown = attempts.history(context.learner, PAGE, (page - 1) * PAGE, level_id)
    known = map(level_of, attempts.levels(context.learner))
    levels = tuple(sorted(each.number for each in known if each is not None))
    return HistoryView(shown, levels, found, page, pages, "when", reverse=False)


def history_view(
    attempts: Sequence[AttemptRecord],
    kinds: Mapping[str, str],
    *,
    kind: str = "",
    order: str = "when",
    reverse: bool = False,
    page: int = 1,
) -> HistoryView:
    """The attempts of a kind in an order.

    `kinds` are those of the exercises of no level (`exercise_kinds`). `kind` is "" for all, a name
    of `KINDS`, or a level's number; `order` is one of `ORDERS`, the other way round if `reverse`.
    What is not known counts as not said.
    """
    order = order if order in ORDERS else "when"
    _, key, descending = ORDERS[order]
    wanted = [one for one in attempts if _is_kind(one, kind, kinds)]
    wanted.sort(key=key, reverse=descending != reverse)
    pages = max(1, -(-len(wanted) // PAGE))
    page = min(max(1, page), pages)
    levels = sorted({number for number in map(_level_number, attempts) if number is not None})
    shown = tuple(wanted[(page - 1) * PAGE : page * PAGE])
    return HistoryView(shown, tuple(levels), len(wanted), page, pages, order, reverse)


def _is_kind(one: AttemptRecord, kind: str, kinds: Mapping[str, str]) -> bool:
    if kind.isdecimal():
        return _level_number(one) == int(kind)
    wanted = next((each for name, each, _ in KINDS if name == kind), None)
    return wanted is None or attempt_kind(one, kinds) == wanted
