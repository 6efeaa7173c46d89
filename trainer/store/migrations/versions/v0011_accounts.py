"""People of a class have accounts: sessions, failed sign-ins, links, and a log of what was changed.

Revision ID: 0011
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0011"
down_revision = "0010"

ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables; nobody has an account yet."""
    _accounts()
    _sessions()
    _links()
    _log()
    op.create_table(
        "server_secrets",
        sa.Column("name", sa.String(40), nullable=False),
        sa.Column("value", sa.String(100), nullable=False),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_server_secrets"),
    )


def _accounts() -> None:
    op.create_table(
        "accounts",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("uid", sa.String(36), nullable=False),
        sa.Column("learner_id", ROW_ID, nullable=False),
        sa.Column("sign_in", sa.String(80), nullable=False),
        sa.Column("shown_name", sa.Text(), nullable=False),
        sa.Column("password_hash", sa.Text()),
        sa.Column("password_at", MOMENT),
        sa.Column("role", sa.String(10), nullable=False),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("disabled_at", MOMENT),
        sa.PrimaryKeyConstraint("id", name="pk_accounts"),
        _belongs_to("learners", "accounts", "learner_id"),
        sa.UniqueConstraint("uid", name="uq_accounts_uid"),
        sa.UniqueConstraint("learner_id", name="uq_accounts_learner_id"),
        sa.UniqueConstraint("sign_in", name="uq_accounts_sign_in"),
    )


def _sessions() -> None:
    op.create_table(
        "sessions",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("token_hash", sa.String(64), nullable=False),
        sa.Column("account_id", ROW_ID, nullable=False),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("seen_at", MOMENT, nullable=False),
        sa.Column("expires_at", MOMENT, nullable=False),
        sa.Column("idle_s", sa.Integer(), nullable=False),
        sa.Column("client", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_sessions"),
        _belongs_to("accounts", "sessions", "account_id"),
        sa.UniqueConstraint("token_hash", name="uq_sessions_token_hash"),
    )
    op.create_index("ix_sessions_account_id", "sessions", ["account_id"])
    op.create_index("ix_sessions_expires_at", "sessions", ["expires_at"])
    op.create_table(
        "sign_in_failures",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("name_hash", sa.String(64), nullable=False),
        sa.Column("source", sa.String(100), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_sign_in_failures"),
    )
    op.create_index("ix_sign_in_failures_source_at", "sign_in_failures", ["source", "at"])
    op.create_index("ix_sign_in_failures_at", "sign_in_failures", ["at"])


def _links() -> None:
    op.create_table(
        "account_links",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("token_hash", sa.String(64), nullable=False),
        sa.Column("account_id", ROW_ID),
        sa.Column("role", sa.String(10)),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("expires_at", MOMENT, nullable=False),
        sa.Column("used_at", MOMENT),
        sa.PrimaryKeyConstraint("id", name="pk_account_links"),
        _belongs_to("accounts", "account_links", "account_id"),
        sa.UniqueConstraint("token_hash", name="uq_account_links_token_hash"),
    )
    op.create_index("ix_account_links_account_id", "account_links", ["account_id"])


def _log() -> None:
    op.create_table(
        "audit_log",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("who", sa.String(36)),
        sa.Column("what", sa.String(60), nullable=False),
        sa.Column("subject", sa.String(120), nullable=False),
        sa.Column("before", sa.JSON()),
        sa.Column("after", sa.JSON()),
        sa.PrimaryKeyConstraint("id", name="pk_audit_log"),
    )
    op.create_index("ix_audit_log_subject_id", "audit_log", ["subject", "id"])
    op.create_index("ix_audit_log_who", "audit_log", ["who"])


def _belongs_to(owner: str, table: str, column: str) -> sa.ForeignKeyConstraint:
    """What hangs on a row and goes with it."""
    name = f"fk_{table}_{column}_{owner}"
    return sa.ForeignKeyConstraint([column], [f"{owner}.id"], name=name, ondelete="CASCADE")
