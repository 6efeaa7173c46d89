"""Learners keep songs of their own: versions, tags, sets, and which charts they have been shown.

Revision ID: 0010
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"

ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make the tables; nobody has a song yet."""
    _songs()
    _sets()
    op.create_table(
        "seen_songs",
        sa.Column("learner_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("song", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("learner_id", "song", name="pk_seen_songs"),
        _belongs_to("learners", "seen_songs", "learner_id"),
        sqlite_with_rowid=False,
    )


def _songs() -> None:
    op.create_table(
        "songs",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("uid", sa.String(36), nullable=False),
        sa.Column("learner_id", ROW_ID, nullable=False),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.Column("deleted_at", MOMENT),
        sa.Column("shared", sa.Boolean(), nullable=False),
        sa.Column("newest", sa.Integer(), nullable=False),
        sa.Column("search", sa.Text(), nullable=False),
        sa.Column("draft", sa.Text()),
        sa.Column("draft_from", sa.Integer()),
        sa.Column("draft_at", MOMENT),
        sa.PrimaryKeyConstraint("id", name="pk_songs"),
        _belongs_to("learners", "songs", "learner_id"),
        sa.UniqueConstraint("uid", name="uq_songs_uid"),
    )
    op.create_index("ix_songs_learner_id", "songs", ["learner_id"])
    op.create_table(
        "song_versions",
        sa.Column("song_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("number", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("began_from", sa.Integer()),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("key", sa.String(20), nullable=False),
        sa.Column("tempo", sa.Float(), nullable=False),
        sa.Column("meter", sa.String(10), nullable=False),
        sa.Column("bars", sa.Integer(), nullable=False),
        sa.Column("saved_at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("song_id", "number", name="pk_song_versions"),
        _belongs_to("songs", "song_versions", "song_id"),
    )
    op.create_table(
        "song_tags",
        sa.Column("song_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("tag", sa.String(40), nullable=False),
        sa.PrimaryKeyConstraint("song_id", "tag", name="pk_song_tags"),
        _belongs_to("songs", "song_tags", "song_id"),
        sqlite_with_rowid=False,
    )


def _sets() -> None:
    op.create_table(
        "song_sets",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("uid", sa.String(36), nullable=False),
        sa.Column("learner_id", ROW_ID, nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("made_at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_song_sets"),
        _belongs_to("learners", "song_sets", "learner_id"),
        sa.UniqueConstraint("uid", name="uq_song_sets_uid"),
    )
    op.create_index("ix_song_sets_learner_id", "song_sets", ["learner_id"])
    op.create_table(
        "song_set_items",
        sa.Column("set_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("position", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("song", sa.String(60), nullable=False),
        sa.Column("key", sa.String(20)),
        sa.PrimaryKeyConstraint("set_id", "position", name="pk_song_set_items"),
        _belongs_to("song_sets", "song_set_items", "set_id"),
        sqlite_with_rowid=False,
    )


def _belongs_to(owner: str, table: str, column: str) -> sa.ForeignKeyConstraint:
    """What hangs on a row and goes with it."""
    name = f"fk_{table}_{column}_{owner}"
    return sa.ForeignKeyConstraint([column], [f"{owner}.id"], name=name, ondelete="CASCADE")
