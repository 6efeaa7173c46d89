"""Graded bars in rows, and back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

from sqlalchemy import Connection, insert, select

from trainer.practice import GradedBar
from trainer.store.tables import bar_results

__all__ = ["BATCH", "add_bars", "stored_bars"]

# Attempts whose bars are read at once.
BATCH = 200
_FIELDS = tuple(field.name for field in fields(GradedBar))


def add_bars(connection: Connection, attempt_id: int, bars: Sequence[GradedBar]) -> None:
    """Write the bars of an attempt."""
    if bars:
        rows = [
            {"attempt_id": attempt_id, **{name: getattr(bar, name) for name in _FIELDS}}
            for bar in bars
        ]
        connection.execute(insert(bar_results), rows)


def stored_bars(
    connection: Connection, attempt_ids: Sequence[int]
) -> dict[int, tuple[GradedBar, ...]]:
    """The bars of each of at most `BATCH` attempts, in their order."""
    columns = [bar_results.c[name] for name in _FIELDS]
    query = (
        select(bar_results.c.attempt_id, *columns)
        .where(bar_results.c.attempt_id.in_(attempt_ids))
        .order_by(bar_results.c.attempt_id, bar_results.c.position)
    )
    confusions, skills = 1 + _FIELDS.index("confusions"), 1 + _FIELDS.index("skills")
    found: dict[int, list[GradedBar]] = {number: [] for number in attempt_ids}
    for row in connection.execute(query):
        values = list(row)
        values[confusions] = tuple((played, written) for played, written in values[confusions])
        values[skills] = tuple(values[skills])
        found[values[0]].append(GradedBar(*values[1:]))
    return {number: tuple(bars) for number, bars in found.items()}
