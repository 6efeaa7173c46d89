"""Learning platforms (LTI): keys, courses, line items and scores on their way.

Revision ID: 0015
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"

ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables; no platform is known yet."""
    op.create_table(
        "tool_keys",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("pem", sa.Text(), nullable=False),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_tool_keys"),
    )
    op.create_table(
        "lti_courses",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("issuer", sa.String(255), nullable=False),
        sa.Column("deployment", sa.String(255), nullable=False),
        sa.Column("context", sa.String(255), nullable=False),
        sa.Column("class_id", ROW_ID, nullable=False),
        sa.Column("made_at", MOMENT, nullable=False),
        _key("lti_courses", "class_id", "classes"),
        sa.PrimaryKeyConstraint("id", name="pk_lti_courses"),
        sa.UniqueConstraint(
            "issuer", "deployment", "context", name="uq_lti_courses_issuer_deployment_context"
        ),
    )
    op.create_index("ix_lti_courses_class_id", "lti_courses", ["class_id"])
    op.create_table(
        "lti_line_items",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("issuer", sa.String(255), nullable=False),
        sa.Column("client_id", sa.String(255), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("address_digest", sa.String(64), nullable=False),
        sa.Column("assignment_id", ROW_ID, nullable=False),
        sa.Column("made_at", MOMENT, nullable=False),
        _key("lti_line_items", "assignment_id", "assignments"),
        sa.PrimaryKeyConstraint("id", name="pk_lti_line_items"),
        sa.UniqueConstraint(
            "address_digest",
            "assignment_id",
            name="uq_lti_line_items_address_digest_assignment_id",
        ),
    )
    op.create_index("ix_lti_line_items_assignment_id", "lti_line_items", ["assignment_id"])
    op.create_table(
        "lti_passback",
        sa.Column("line_item_id", ROW_ID, nullable=False),
        sa.Column("account_id", ROW_ID, nullable=False),
        sa.Column("due_at", MOMENT),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("sent_score", sa.Float()),
        sa.Column("sent_at", MOMENT),
        sa.Column("problem", sa.Text()),
        _key("lti_passback", "line_item_id", "lti_line_items"),
        _key("lti_passback", "account_id", "accounts"),
        sa.PrimaryKeyConstraint("line_item_id", "account_id", name="pk_lti_passback"),
    )
    op.create_index("ix_lti_passback_account_id", "lti_passback", ["account_id"])
    op.create_index("ix_lti_passback_due_at", "lti_passback", ["due_at"])


def _key(table: str, column: str, owner: str) -> sa.ForeignKeyConstraint:
    """A key with whose owner the row goes."""
    name = f"fk_{table}_{column}_{owner}"
    return sa.ForeignKeyConstraint([column], [f"{owner}.id"], name=name, ondelete="CASCADE")
