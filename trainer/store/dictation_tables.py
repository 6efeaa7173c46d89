"""The tables of live dictations. A change here needs a migration; a test compares the two."""

from __future__ import annotations

from typing import Any

from sqlalchemy import Column, ForeignKey, Index, Integer, String, Table, UniqueConstraint

from trainer.store.class_tables import of_account
from trainer.store.columns import StoredJson, StoredText
from trainer.store.tables import RowId, UtcDateTime, metadata

__all__ = ["dictation_answers", "dictations"]


def _perhaps(table: str, name: str) -> Column[int]:
    """The key of something that may be gone, or not there yet."""
    key = ForeignKey(f"{table}.id", ondelete="SET NULL")
    return Column(name, RowId, key, index=True)


# `trainer.store.dictation_records.Dictation`. `song` is an item as `assignment_items` has it, with
# its exercise; no learner is ever shown it. `assignment_id` is where the answers go at the end.
dictations = Table(
    "dictations",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("uid", String(36), nullable=False),
    Column("class_id", RowId, ForeignKey("classes.id", ondelete="CASCADE"), nullable=False),
    Column("title", StoredText, nullable=False),
    Column("song", StoredJson("dictations.song", dict[str, Any]), nullable=False),
    Column("bars", Integer, nullable=False),
    Column("phase", String(10), nullable=False),
    Column("revision", Integer, nullable=False),
    Column("first_bar", Integer, nullable=False),
    Column("last_bar", Integer, nullable=False),
    Column("began_at", UtcDateTime),
    Column("heard", Integer, nullable=False),
    Column("plays", Integer, nullable=False),
    _perhaps("accounts", "made_by"),
    Column("made_at", UtcDateTime, nullable=False),
    Column("ended_at", UtcDateTime),
    _perhaps("assignments", "assignment_id"),
    UniqueConstraint("uid"),
    Index(None, "class_id", "phase"),
)

# What an account has written so far; `seen_at` is when its page was last heard of.
dictation_answers = Table(
    "dictation_answers",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("dictation_id", RowId, ForeignKey("dictations.id", ondelete="CASCADE"), nullable=False),
    of_account(index=True),
    Column("text", StoredText, nullable=False),
    Column("seen_at", UtcDateTime, nullable=False),
    Column("handed_in_at", UtcDateTime),
    _perhaps("attempts", "attempt_id"),
    UniqueConstraint("dictation_id", "account_id"),
)
