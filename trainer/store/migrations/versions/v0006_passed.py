"""Attempts keep whether they passed their level, by the rules of their time.

Until here an attempt passed that was listened to, at a song not seen before, with a score at the
mark of its level; the marks are those that the course had then.

Revision ID: 0006
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"

# The marks of the course when a score alone passed a level; the last level had the number 31.
LAST_LEVEL = 31
USUAL_MARK, LOWER_MARK = 0.85, 0.8
LOWER_LEVELS = (13, 17, 26, 29)


def upgrade() -> None:
    """Add the column and fill it for attempts at levels; of other attempts there is nothing to
    say."""
    op.add_column("attempts", sa.Column("passed", sa.Boolean()))
    names = ("level", "score", "listens", "seen", "passed")
    attempts = sa.table("attempts", *map(sa.column, names))
    a = attempts.c
    mark = sa.case((a.level.in_(LOWER_LEVELS), LOWER_MARK), else_=USUAL_MARK)
    reached = sa.and_(a.listens > 0, a.seen == sa.false(), a.score >= mark)
    op.execute(
        attempts.update()
        .where(a.level.between(1, LAST_LEVEL))
        .values(passed=sa.case((reached, sa.true()), else_=sa.false()))
    )
