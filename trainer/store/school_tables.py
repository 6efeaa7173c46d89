"""The tables of sign-in by a school's own system. A change here needs a migration; a test compares
the two.
"""

from __future__ import annotations

from sqlalchemy import Column, Index, String, Table, UniqueConstraint

from trainer.store.class_tables import of_account
from trainer.store.tables import RowId, UtcDateTime, metadata

__all__ = ["LONGEST_ISSUER", "LONGEST_SUBJECT", "identities", "used_once"]

# A subject has at most 255 characters (OpenID Connect Core 1.0, section 2).
LONGEST_ISSUER, LONGEST_SUBJECT = 255, 255

# Who an account is to a school's own system: the issuer's address, and what the issuer calls the
# person, which it never gives to anybody else.
identities = Table(
    "identities",
    metadata,
    Column("id", RowId, primary_key=True),
    of_account(index=True),
    Column("issuer", String(LONGEST_ISSUER), nullable=False),
    Column("subject", String(LONGEST_SUBJECT), nullable=False),
    Column("made_at", UtcDateTime, nullable=False),
    Column("used_at", UtcDateTime, nullable=False),
    UniqueConstraint("issuer", "subject"),
)

# Digests of what may be used only once, kept until it would be too old anyway.
used_once = Table(
    "used_once",
    metadata,
    Column("digest", String(64), primary_key=True),
    Column("expires_at", UtcDateTime, nullable=False),
    Index(None, "expires_at"),
)
