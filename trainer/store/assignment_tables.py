"""The tables of classes and what is assigned in them. A change here needs a migration; a test
compares the two.

What a teacher changed is logged in `audit_log`, so that no table here needs a log of its own.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import (
    Boolean,
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    String,
    Table,
    UniqueConstraint,
)

from trainer.store.class_tables import of_account
from trainer.store.columns import StoredJson, StoredText
from trainer.store.tables import RowId, UtcDateTime, metadata

__all__ = [
    "accepted_charts",
    "assigned",
    "assigned_attempts",
    "assignment_items",
    "assignments",
    "class_members",
    "classes",
    "earlier_grades",
    "join_codes",
    "overrides",
]


def _of(table: str, name: str, *, index: bool = True) -> Column[int]:
    """The key of what a row hangs on and goes with."""
    key = ForeignKey(f"{table}.id", ondelete="CASCADE")
    return Column(name, RowId, key, nullable=False, index=index)


def _made_by() -> Column[int]:
    """The account of who did something; null once that account is deleted."""
    return Column("made_by", RowId, ForeignKey("accounts.id", ondelete="SET NULL"), index=True)


classes = Table(
    "classes",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("uid", String(36), nullable=False),
    Column("name", StoredText, nullable=False),
    Column("term", StoredText, nullable=False),
    _made_by(),
    Column("made_at", UtcDateTime, nullable=False),
    Column("closed_at", UtcDateTime),
    UniqueConstraint("uid"),
)

# `role` is "teacher" or "learner", here and not in the account: somebody may learn in one class and
# teach another.
class_members = Table(
    "class_members",
    metadata,
    Column("id", RowId, primary_key=True),
    _of("classes", "class_id", index=False),
    of_account(index=True),
    Column("role", String(10), nullable=False),
    Column("joined_at", UtcDateTime, nullable=False),
    Column("left_at", UtcDateTime),
    UniqueConstraint("class_id", "account_id"),
)

# A code is kept as it is, because the teacher shows it to the class as long as it holds.
join_codes = Table(
    "join_codes",
    metadata,
    Column("id", RowId, primary_key=True),
    _of("classes", "class_id"),
    Column("code", String(20), nullable=False),
    Column("made_at", UtcDateTime, nullable=False),
    Column("expires_at", UtcDateTime, nullable=False),
    Column("ended_at", UtcDateTime),
    UniqueConstraint("code"),
)

# `trainer.store.class_records.Assignment`. `scheme` is a table as `trainer.grade.weights_from`
# takes it, null for what each exercise asks.
assignments = Table(
    "assignments",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("uid", String(36), nullable=False),
    _of("classes", "class_id"),
    Column("title", StoredText, nullable=False),
    Column("opens_at", UtcDateTime),
    Column("closes_at", UtcDateTime),
    Column("late_until", UtcDateTime),
    Column("late_cost", Float, nullable=False),
    Column("scheme", StoredJson("assignments.scheme", dict[str, Any] | None)),
    Column("pass_mark", Float, nullable=False),
    Column("tries", Integer, nullable=False),
    Column("counts", String(10), nullable=False),
    Column("results", String(10), nullable=False),
    Column("shown_at", UtcDateTime),
    _made_by(),
    Column("made_at", UtcDateTime, nullable=False),
    Column("copied_from", String(36)),
    UniqueConstraint("uid"),
)

# `recipe` says how the songs of an item are made, and `exercise` is the song of all, or an example
# of its songs; neither is ever shown to a learner. `take` names how the band plays it, so that
# it sounds the same for all who have the same song.
assignment_items = Table(
    "assignment_items",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("uid", String(36), nullable=False),
    _of("assignments", "assignment_id"),
    Column("position", Integer, nullable=False),
    Column("kind", String(10), nullable=False),
    Column("title", StoredText, nullable=False),
    Column("source", StoredJson("assignment_items.source", dict[str, Any]), nullable=False),
    Column("same_song", Boolean, nullable=False),
    Column("listens", Integer, nullable=False),
    Column("tempo", Integer, nullable=False),
    Column("one_pass", Boolean, nullable=False),
    Column("points", Float, nullable=False),
    Column("take", String(40), nullable=False),
    Column("expected", Float, nullable=False),
    Column("exercise", StoredJson("assignment_items.exercise", dict[str, Any]), nullable=False),
    UniqueConstraint("uid"),
)

# What was handed out: an item's exercise for one account and one try. `song` is the digest of the
# song, by which answers to the same song are put together.
assigned = Table(
    "assigned",
    metadata,
    Column("id", RowId, primary_key=True),
    _of("assignment_items", "item_id", index=False),
    of_account(index=True),
    Column("number", Integer, nullable=False),
    _of("exercises", "exercise_id", index=False),
    Column("song", String(64), nullable=False),
    Column("handed_at", UtcDateTime, nullable=False),
    UniqueConstraint("item_id", "account_id", "number"),
    UniqueConstraint("exercise_id"),
)

# The grade of an attempt in its assignment. `graded` is the report's score under the scheme;
# `report` is null where it is the attempt's own; `score` has overrides and lateness in it.
assigned_attempts = Table(
    "assigned_attempts",
    metadata,
    Column(
        "attempt_id",
        RowId,
        ForeignKey("attempts.id", ondelete="CASCADE"),
        primary_key=True,
        autoincrement=False,
    ),
    _of("assigned", "assigned_id", index=False),
    Column("handed_in_at", UtcDateTime, nullable=False),
    Column("late", Boolean, nullable=False),
    Column("counts", Boolean, nullable=False),
    Column("graded", Float, nullable=False),
    Column("score", Float, nullable=False),
    Column("report", StoredJson("assigned_attempts.report", dict[str, Any] | None)),
    Column("accepted_id", RowId, ForeignKey("accepted_charts.id", ondelete="SET NULL"), index=True),
    UniqueConstraint("assigned_id"),
)

# What a teacher changed or said about one bar of an attempt; bar 0 is the attempt as a whole.
overrides = Table(
    "overrides",
    metadata,
    Column("id", RowId, primary_key=True),
    Column(
        "attempt_id",
        RowId,
        ForeignKey("assigned_attempts.attempt_id", ondelete="CASCADE"),
        nullable=False,
    ),
    Column("bar", Integer, nullable=False),
    Column("credit", Float),
    Column("comment", StoredText, nullable=False),
    _made_by(),
    Column("made_at", UtcDateTime, nullable=False),
    UniqueConstraint("attempt_id", "bar"),
)

# A second chart that is right as well, for every answer to the song of the digest in an item.
accepted_charts = Table(
    "accepted_charts",
    metadata,
    Column("id", RowId, primary_key=True),
    _of("assignment_items", "item_id", index=False),
    Column("song", String(64), nullable=False),
    Column("text", StoredText, nullable=False),
    Column("comment", StoredText, nullable=False),
    _made_by(),
    Column("made_at", UtcDateTime, nullable=False),
    Column("withdrawn_at", UtcDateTime),
    Index(None, "item_id", "song"),
)

# Grades as they were before something changed them, newest last. `report` is null where it was the
# attempt's own.
earlier_grades = Table(
    "earlier_grades",
    metadata,
    Column("id", RowId, primary_key=True),
    Column(
        "attempt_id",
        RowId,
        ForeignKey("assigned_attempts.attempt_id", ondelete="CASCADE"),
        nullable=False,
        index=True,
    ),
    Column("until", UtcDateTime, nullable=False),
    Column("reason", String(20), nullable=False),
    Column("graded", Float, nullable=False),
    Column("score", Float, nullable=False),
    Column("report", StoredJson("earlier_grades.report", dict[str, Any] | None)),
)
