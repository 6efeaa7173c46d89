"""Exercises being written keep their listens when the program is started again.

Revision ID: 0003
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"

ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Add the table of seats."""
    op.create_table(
        "seats",
        sa.Column("learner_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("exercise_id", sa.String(length=200), nullable=False),
        sa.Column("token", sa.String(length=80), nullable=False),
        sa.Column("started_at", MOMENT, nullable=False),
        sa.Column("speeds", sa.JSON(), nullable=False),
        sa.Column("worked_s", sa.Float(), nullable=False),
        sa.Column("seen_at", MOMENT, nullable=False),
        sa.ForeignKeyConstraint(
            ["learner_id"], ["learners.id"], name="fk_seats_learner_id_learners", ondelete="CASCADE"
        ),
        sa.ForeignKeyConstraint(
            ["exercise_id"], ["exercises.id"], name="fk_seats_exercise_id_exercises"
        ),
        sa.PrimaryKeyConstraint("learner_id", "exercise_id", name="pk_seats"),
    )
