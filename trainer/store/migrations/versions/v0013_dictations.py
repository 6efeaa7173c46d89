"""Live dictations, and what each learner writes in them.

Revision ID: 0013
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"

ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables; there is no dictation yet."""
    op.create_table(
        "dictations",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("uid", sa.String(36), nullable=False),
        sa.Column("class_id", ROW_ID, nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("song", sa.JSON(), nullable=False),
        sa.Column("bars", sa.Integer(), nullable=False),
        sa.Column("phase", sa.String(10), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("first_bar", sa.Integer(), nullable=False),
        sa.Column("last_bar", sa.Integer(), nullable=False),
        sa.Column("began_at", MOMENT),
        sa.Column("heard", sa.Integer(), nullable=False),
        sa.Column("plays", sa.Integer(), nullable=False),
        sa.Column("made_by", ROW_ID),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("ended_at", MOMENT),
        sa.Column("assignment_id", ROW_ID),
        _key("dictations", "class_id", "classes", "CASCADE"),
        _key("dictations", "made_by", "accounts", "SET NULL"),
        _key("dictations", "assignment_id", "assignments", "SET NULL"),
        sa.PrimaryKeyConstraint("id", name="pk_dictations"),
        sa.UniqueConstraint("uid", name="uq_dictations_uid"),
    )
    op.create_index("ix_dictations_class_id_phase", "dictations", ["class_id", "phase"])
    op.create_index("ix_dictations_made_by", "dictations", ["made_by"])
    op.create_index("ix_dictations_assignment_id", "dictations", ["assignment_id"])
    op.create_table(
        "dictation_answers",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("dictation_id", ROW_ID, nullable=False),
        sa.Column("account_id", ROW_ID, nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("seen_at", MOMENT, nullable=False),
        sa.Column("handed_in_at", MOMENT),
        sa.Column("attempt_id", ROW_ID),
        _key("dictation_answers", "dictation_id", "dictations", "CASCADE"),
        _key("dictation_answers", "account_id", "accounts", "CASCADE"),
        _key("dictation_answers", "attempt_id", "attempts", "SET NULL"),
        sa.PrimaryKeyConstraint("id", name="pk_dictation_answers"),
        sa.UniqueConstraint(
            "dictation_id", "account_id", name="uq_dictation_answers_dictation_id_account_id"
        ),
    )
    op.create_index("ix_dictation_answers_account_id", "dictation_answers", ["account_id"])
    op.create_index("ix_dictation_answers_attempt_id", "dictation_answers", ["attempt_id"])


def _key(table: str, column: str, owner: str, then: str) -> sa.ForeignKeyConstraint:
    """What becomes of a row when what its column names goes."""
    name = f"fk_{table}_{column}_{owner}"
    return sa.ForeignKeyConstraint([column], [f"{owner}.id"], name=name, ondelete=then)
