"""The tables of a class server. A change here needs a migration; a test compares the two.

What opens a door (session tokens, links) is stored only as a digest, so that a copy of the database
opens none.
"""

from __future__ import annotations

from typing import Any

from sqlalchemy import Column, ForeignKey, Index, Integer, String, Table, Text, UniqueConstraint

from trainer.store.columns import StoredJson, StoredText
from trainer.store.tables import RowId, UtcDateTime, metadata

__all__ = [
    "account_links",
    "accounts",
    "audit_log",
    "server_secrets",
    "sessions",
    "sign_in_failures",
]


def of_account(name: str = "account_id", *, index: bool = False) -> Column[int]:
    """An account's key; what hangs on it goes when the account is deleted."""
    key = ForeignKey("accounts.id", ondelete="CASCADE")
    return Column(name, RowId, key, nullable=False, index=index)


# An account goes with its learner. `sign_in` is the folded name; without a password hash its person
# signs in elsewhere, or has not followed the link yet that sets a password.
accounts = Table(
    "accounts",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("uid", String(36), nullable=False),
    Column("learner_id", RowId, ForeignKey("learners.id", ondelete="CASCADE"), nullable=False),
    Column("sign_in", String(80), nullable=False),
    Column("shown_name", StoredText, nullable=False),
    Column("password_hash", Text),
    Column("password_at", UtcDateTime),
    Column("role", String(10), nullable=False),
    Column("made_at", UtcDateTime, nullable=False),
    Column("disabled_at", UtcDateTime),
    UniqueConstraint("uid"),
    UniqueConstraint("learner_id"),
    UniqueConstraint("sign_in"),
)

# `client` says in words what somebody signed in from. `idle_s` ends a session that is not used.
sessions = Table(
    "sessions",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("token_hash", String(64), nullable=False),
    of_account(index=True),
    Column("made_at", UtcDateTime, nullable=False),
    Column("seen_at", UtcDateTime, nullable=False),
    Column("expires_at", UtcDateTime, nullable=False),
    Column("idle_s", Integer, nullable=False),
    Column("client", StoredText, nullable=False),
    UniqueConstraint("token_hash"),
    Index(None, "expires_at"),
)

# `name_hash` is the digest of the sign-in name tried, which may belong to nobody; `source` is the
# network address, or a known browser.
sign_in_failures = Table(
    "sign_in_failures",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("name_hash", String(64), nullable=False),
    Column("source", String(100), nullable=False),
    Column("at", UtcDateTime, nullable=False),
    Index(None, "source", "at"),
    Index(None, "at"),
)

# A link that makes an account of a role (no account yet), or sets the password of one.
account_links = Table(
    "account_links",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("token_hash", String(64), nullable=False),
    Column("account_id", RowId, ForeignKey("accounts.id", ondelete="CASCADE"), index=True),
    Column("role", String(10)),
    Column("made_at", UtcDateTime, nullable=False),
    Column("expires_at", UtcDateTime, nullable=False),
    Column("used_at", UtcDateTime),
    UniqueConstraint("token_hash"),
)

# `who` and `subject` are words and uids and no keys: an entry outlives what it speaks of.
audit_log = Table(
    "audit_log",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("at", UtcDateTime, nullable=False),
    Column("who", String(36)),
    Column("what", String(60), nullable=False),
    Column("subject", String(120), nullable=False),
    Column("before", StoredJson("audit_log.before", dict[str, Any] | None)),
    Column("after", StoredJson("audit_log.after", dict[str, Any] | None)),
    Index(None, "subject", "id"),
    Index(None, "who"),
)

# What every server process over this database must know alike.
server_secrets = Table(
    "server_secrets",
    metadata,
    Column("name", String(40), primary_key=True),
    Column("value", String(100), nullable=False),
    Column("made_at", UtcDateTime, nullable=False),
)
