"""Who accounts are to a school's own system, and what was used once.

Revision ID: 0014
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"

ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables; nobody signs in elsewhere yet."""
    op.create_table(
        "identities",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("account_id", ROW_ID, nullable=False),
        sa.Column("issuer", sa.String(255), nullable=False),
        sa.Column("subject", sa.String(255), nullable=False),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("used_at", MOMENT, nullable=False),
        sa.ForeignKeyConstraint(
            ["account_id"],
            ["accounts.id"],
            name="fk_identities_account_id_accounts",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_identities"),
        sa.UniqueConstraint("issuer", "subject", name="uq_identities_issuer_subject"),
    )
    op.create_index("ix_identities_account_id", "identities", ["account_id"])
    op.create_table(
        "used_once",
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("expires_at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("digest", name="pk_used_once"),
    )
    op.create_index("ix_used_once_expires_at", "used_once", ["expires_at"])
