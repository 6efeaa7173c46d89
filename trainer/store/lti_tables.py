"""The tables of learning platforms (LTI). A change here needs a migration; a test compares
the two.
"""

from __future__ import annotations

from sqlalchemy import (
    Column,
    Float,
    ForeignKey,
    Index,
    Integer,
    PrimaryKeyConstraint,
    String,
    Table,
    Text,
    UniqueConstraint,
)

from trainer.store.class_tables import of_account
from trainer.store.columns import StoredText
from trainer.store.school_tables import LONGEST_ISSUER
from trainer.store.tables import RowId, UtcDateTime, metadata

__all__ = ["LONGEST_NAME", "courses", "line_items", "passback", "tool_keys"]

# Ids of deployments, contexts and links have at most 255 characters (LTI 1.3, section 5.3).
LONGEST_NAME = 255


def _of(table: str, name: str, *, index: bool = True) -> Column[int]:
    """The key of what a row hangs on and goes with."""
    key = ForeignKey(f"{table}.id", ondelete="CASCADE")
    return Column(name, RowId, key, nullable=False, index=index)


# The private keys with which the server signs what it sends to platforms, as PEM; it signs with the
# newest.
tool_keys = Table(
    "tool_keys",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("pem", Text, nullable=False),
    Column("made_at", UtcDateTime, nullable=False),
)

# The class of a platform's course (its "context").
courses = Table(
    "lti_courses",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("issuer", String(LONGEST_ISSUER), nullable=False),
    Column("deployment", String(LONGEST_NAME), nullable=False),
    Column("context", String(LONGEST_NAME), nullable=False),
    _of("classes", "class_id"),
    Column("made_at", UtcDateTime, nullable=False),
    UniqueConstraint("issuer", "deployment", "context"),
)

# The column of a platform's gradebook that takes the scores of an assignment.
line_items = Table(
    "lti_line_items",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("issuer", String(LONGEST_ISSUER), nullable=False),
    Column("client_id", String(LONGEST_NAME), nullable=False),
    Column("address", StoredText, nullable=False),
    Column("address_digest", String(64), nullable=False),
    _of("assignments", "assignment_id"),
    Column("made_at", UtcDateTime, nullable=False),
    UniqueConstraint("address_digest", "assignment_id"),
)

# A learner's score on its way to a platform. It is to be sent at `due_at`; null once it was.
passback = Table(
    "lti_passback",
    metadata,
    _of("lti_line_items", "line_item_id", index=False),
    of_account(index=True),
    Column("due_at", UtcDateTime),
    Column("tries", Integer, nullable=False),
    Column("sent_score", Float),
    Column("sent_at", UtcDateTime),
    Column("problem", StoredText),
    PrimaryKeyConstraint("line_item_id", "account_id"),
    Index(None, "due_at"),
)
