"""Classes, their members and what is assigned in them; attempts whose result is not shown yet.

Revision ID: 0012
"""

from __future__ import annotations

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"

ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables; there is no class yet, and every result is shown."""
    op.add_column("attempts", sa.Column("hidden_until", MOMENT))
    _index("attempts", "learner_id", "hidden_until")
    _classes()
    _assignments()
    _items()
    _handed_out()
    _grades()


def _classes() -> None:
    _table(
        "classes",
        sa.Column("uid", sa.String(36), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("term", sa.Text(), nullable=False),
        sa.Column("made_by", ROW_ID),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("closed_at", MOMENT),
        _made_by("classes"),
        sa.UniqueConstraint("uid", name="uq_classes_uid"),
    )
    _index("classes", "made_by")
    _table(
        "class_members",
        sa.Column("class_id", ROW_ID, nullable=False),
        sa.Column("account_id", ROW_ID, nullable=False),
        sa.Column("role", sa.String(10), nullable=False),
        sa.Column("joined_at", MOMENT, nullable=False),
        sa.Column("left_at", MOMENT),
        _belongs_to("classes", "class_members", "class_id"),
        _belongs_to("accounts", "class_members", "account_id"),
        sa.UniqueConstraint("class_id", "account_id", name="uq_class_members_class_id_account_id"),
    )
    _index("class_members", "account_id")
    _table(
        "join_codes",
        sa.Column("class_id", ROW_ID, nullable=False),
        sa.Column("code", sa.String(20), nullable=False),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("expires_at", MOMENT, nullable=False),
        sa.Column("ended_at", MOMENT),
        _belongs_to("classes", "join_codes", "class_id"),
        sa.UniqueConstraint("code", name="uq_join_codes_code"),
    )
    _index("join_codes", "class_id")


def _assignments() -> None:
    _table(
        "assignments",
        sa.Column("uid", sa.String(36), nullable=False),
        sa.Column("class_id", ROW_ID, nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("opens_at", MOMENT),
        sa.Column("closes_at", MOMENT),
        sa.Column("late_until", MOMENT),
        sa.Column("late_cost", sa.Float(), nullable=False),
        sa.Column("scheme", sa.JSON()),
        sa.Column("pass_mark", sa.Float(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("counts", sa.String(10), nullable=False),
        sa.Column("results", sa.String(10), nullable=False),
        sa.Column("shown_at", MOMENT),
        sa.Column("made_by", ROW_ID),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("copied_from", sa.String(36)),
        _belongs_to("classes", "assignments", "class_id"),
        _made_by("assignments"),
        sa.UniqueConstraint("uid", name="uq_assignments_uid"),
    )
    _index("assignments", "class_id")
    _index("assignments", "made_by")


def _items() -> None:
    _table(
        "assignment_items",
        sa.Column("uid", sa.String(36), nullable=False),
        sa.Column("assignment_id", ROW_ID, nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(10), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("source", sa.JSON(), nullable=False),
        sa.Column("same_song", sa.Boolean(), nullable=False),
        sa.Column("listens", sa.Integer(), nullable=False),
        sa.Column("tempo", sa.Integer(), nullable=False),
        sa.Column("one_pass", sa.Boolean(), nullable=False),
        sa.Column("points", sa.Float(), nullable=False),
        sa.Column("take", sa.String(40), nullable=False),
        sa.Column("expected", sa.Float(), nullable=False),
        sa.Column("exercise", sa.JSON(), nullable=False),
        _belongs_to("assignments", "assignment_items", "assignment_id"),
        sa.UniqueConstraint("uid", name="uq_assignment_items_uid"),
    )
    _index("assignment_items", "assignment_id")


def _handed_out() -> None:
    _table(
        "assigned",
        sa.Column("item_id", ROW_ID, nullable=False),
        sa.Column("account_id", ROW_ID, nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("exercise_id", ROW_ID, nullable=False),
        sa.Column("song", sa.String(64), nullable=False),
        sa.Column("handed_at", MOMENT, nullable=False),
        _belongs_to("assignment_items", "assigned", "item_id"),
        _belongs_to("accounts", "assigned", "account_id"),
        _belongs_to("exercises", "assigned", "exercise_id"),
        sa.UniqueConstraint(
            "item_id", "account_id", "number", name="uq_assigned_item_id_account_id_number"
        ),
        sa.UniqueConstraint("exercise_id", name="uq_assigned_exercise_id"),
    )
    _index("assigned", "account_id")


def _grades() -> None:
    _table(
        "accepted_charts",
        sa.Column("item_id", ROW_ID, nullable=False),
        sa.Column("song", sa.String(64), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("comment", sa.Text(), nullable=False),
        sa.Column("made_by", ROW_ID),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("withdrawn_at", MOMENT),
        _belongs_to("assignment_items", "accepted_charts", "item_id"),
        _made_by("accepted_charts"),
    )
    _index("accepted_charts", "item_id", "song")
    _index("accepted_charts", "made_by")
    op.create_table(
        "assigned_attempts",
        sa.Column("attempt_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("assigned_id", ROW_ID, nullable=False),
        sa.Column("handed_in_at", MOMENT, nullable=False),
        sa.Column("late", sa.Boolean(), nullable=False),
        sa.Column("counts", sa.Boolean(), nullable=False),
        sa.Column("graded", sa.Float(), nullable=False),
        sa.Column("score", sa.Float(), nullable=False),
        sa.Column("report", sa.JSON()),
        sa.Column("accepted_id", ROW_ID),
        sa.PrimaryKeyConstraint("attempt_id", name="pk_assigned_attempts"),
        _belongs_to("attempts", "assigned_attempts", "attempt_id"),
        _belongs_to("assigned", "assigned_attempts", "assigned_id"),
        sa.ForeignKeyConstraint(
            ["accepted_id"],
            ["accepted_charts.id"],
            name="fk_assigned_attempts_accepted_id_accepted_charts",
            ondelete="SET NULL",
        ),
        sa.UniqueConstraint("assigned_id", name="uq_assigned_attempts_assigned_id"),
    )
    _index("assigned_attempts", "accepted_id")
    _table(
        "overrides",
        sa.Column("attempt_id", ROW_ID, nullable=False),
        sa.Column("bar", sa.Integer(), nullable=False),
        sa.Column("credit", sa.Float()),
        sa.Column("comment", sa.Text(), nullable=False),
        sa.Column("made_by", ROW_ID),
        sa.Column("made_at", MOMENT, nullable=False),
        _of_graded("overrides"),
        _made_by("overrides"),
        sa.UniqueConstraint("attempt_id", "bar", name="uq_overrides_attempt_id_bar"),
    )
    _index("overrides", "made_by")
    _table(
        "earlier_grades",
        sa.Column("attempt_id", ROW_ID, nullable=False),
        sa.Column("until", MOMENT, nullable=False),
        sa.Column("reason", sa.String(20), nullable=False),
        sa.Column("graded", sa.Float(), nullable=False),
        sa.Column("score", sa.Float(), nullable=False),
        sa.Column("report", sa.JSON()),
        _of_graded("earlier_grades"),
    )
    _index("earlier_grades", "attempt_id")


def _table(name: str, *parts: Any) -> None:
    """A table whose rows are numbered."""
    key = sa.PrimaryKeyConstraint("id", name=f"pk_{name}")
    op.create_table(name, sa.Column("id", ROW_ID, nullable=False), *parts, key)


def _index(table: str, *columns: str) -> None:
    op.create_index(f"ix_{table}_{'_'.join(columns)}", table, list(columns))


def _belongs_to(owner: str, table: str, column: str) -> sa.ForeignKeyConstraint:
    """What hangs on a row and goes with it."""
    name = f"fk_{table}_{column}_{owner}"
    return sa.ForeignKeyConstraint([column], [f"{owner}.id"], name=name, ondelete="CASCADE")


def _of_graded(table: str) -> sa.ForeignKeyConstraint:
    """What hangs on the grade of an attempt."""
    name = f"fk_{table}_attempt_id_assigned_attempts"
    target = ["assigned_attempts.attempt_id"]
    return sa.ForeignKeyConstraint(["attempt_id"], target, name=name, ondelete="CASCADE")


def _made_by(table: str) -> sa.ForeignKeyConstraint:
    """The account of who did something, forgotten when that account is deleted."""
    name = f"fk_{table}_made_by_accounts"
    return sa.ForeignKeyConstraint(["made_by"], ["accounts.id"], name=name, ondelete="SET NULL")
