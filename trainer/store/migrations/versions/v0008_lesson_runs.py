"""Goes at the quick questions of lessons are kept, answer by answer.

Revision ID: 0008
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"

ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the table; nobody has answered anything yet."""
    op.create_table(
        "lesson_runs",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("learner_id", ROW_ID, nullable=False),
        sa.Column("lesson", sa.String(80), nullable=False),
        sa.Column("seed", sa.BigInteger(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("started_at", MOMENT, nullable=False),
        sa.Column("answered_at", MOMENT),
        sa.Column("answers", sa.JSON(), nullable=False),
        sa.Column("app_version", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_lesson_runs"),
        sa.ForeignKeyConstraint(
            ["learner_id"],
            ["learners.id"],
            name="fk_lesson_runs_learner_id_learners",
            ondelete="CASCADE",
        ),
        sa.UniqueConstraint(
            "learner_id", "lesson", "started_at", name="uq_lesson_runs_learner_id_lesson_started_at"
        ),
    )
