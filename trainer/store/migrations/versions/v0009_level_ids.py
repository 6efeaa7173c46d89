"""Attempts name their level by its lasting id: numbers change when the course gets more levels.

Until here the course had 31 levels, and an attempt named its own by its number. The number stays as
it was stored.

Revision ID: 0009
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"

# The levels of the course until here, in their order.
LEVELS = (
    "home-four-five",
    "six-minor",
    "two-minor",
    "three-minor",
    "any-key",
    "even-splits",
    "five-over-seven",
    "whole-section",
    "one-over-three",
    "odd-phrases",
    "waltz",
    "six-eight",
    "shuffle",
    "flat-seven",
    "two-major",
    "four-minor",
    "added-notes",
    "holds",
    "pushes",
    "chokes",
    "short-bars",
    "uneven-splits",
    "whole-song",
    "second-verse",
    "train-and-half-time",
    "minor-songs",
    "key-change-songs",
    "tags",
    "work-tape",
    "session-day",
    "one-listen",
)
OLD_INDEX = "ix_attempts_learner_id_level_finished_at_id_score"
NEW_INDEX = "ix_attempts_learner_id_level_id_finished_at_id_score"


def upgrade() -> None:
    """Add the column, fill it from the numbers, and find a level's attempts by it."""
    op.add_column("attempts", sa.Column("level_id", sa.String(40)))
    attempts = sa.table("attempts", sa.column("level"), sa.column("level_id"))
    for number, level_id in enumerate(LEVELS, 1):
        mine = attempts.c.level == number
        op.execute(attempts.update().where(mine).values(level_id=level_id))
    op.drop_index(OLD_INDEX, table_name="attempts")
    columns = ["learner_id", "level_id", "finished_at", "id", "score"]
    op.create_index(NEW_INDEX, "attempts", columns)
