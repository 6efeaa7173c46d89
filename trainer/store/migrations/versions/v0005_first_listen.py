"""Drills know when their first listen began, so that another device keeps the timing.

Revision ID: 0005
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add the moment; of drills that were begun before, it is not known."""
    op.add_column("drills", sa.Column("first_listen_at", sa.DateTime(timezone=True)))
