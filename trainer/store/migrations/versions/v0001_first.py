"""The first tables.

Revision ID: 0001
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Make every table."""
    _learners()
    _exercises()
    _attempts()
    _papers()
    _bar_results()
    _skill_days()
    _confusion_days()
    _drafts()


def _learners() -> None:
    op.create_table(
        "learners",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_learners"),
        sa.UniqueConstraint("name", name="uq_learners_name"),
    )


def _exercises() -> None:
    op.create_table(
        "exercises",
        sa.Column("id", sa.String(length=200), nullable=False),
        sa.Column("level", sa.Integer()),
        sa.Column("origin", sa.String(length=20), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("data", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_exercises"),
    )


def _attempts() -> None:
    op.create_table(
        "attempts",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("learner_id", ROW_ID, nullable=False),
        sa.Column("exercise_id", sa.String(length=200), nullable=False),
        sa.Column("level", sa.Integer()),
        sa.Column("started_at", MOMENT, nullable=False),
        sa.Column("finished_at", MOMENT, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("duration_s", sa.Float(), nullable=False),
        sa.Column("score", sa.Float(), nullable=False),
        sa.Column("bars", sa.Integer(), nullable=False),
        sa.Column("listens", sa.Integer(), nullable=False),
        sa.Column("paused", sa.Boolean(), nullable=False),
        sa.Column("tempo_ratio", sa.Float(), nullable=False),
        sa.Column("first_pass", sa.Boolean(), nullable=False),
        sa.Column("lag_beats", sa.Float()),
        sa.Column("app_version", sa.String(length=40), nullable=False),
        sa.Column("token", sa.String(length=80)),
        sa.ForeignKeyConstraint(
            ["exercise_id"], ["exercises.id"], name="fk_attempts_exercise_id_exercises"
        ),
        sa.ForeignKeyConstraint(
            ["learner_id"],
            ["learners.id"],
            name="fk_attempts_learner_id_learners",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("id", name="pk_attempts"),
        sa.UniqueConstraint("learner_id", "token", name="uq_attempts_learner_id_token"),
    )
    op.create_index("ix_attempts_exercise_id", "attempts", ["exercise_id"])
    op.create_index("ix_attempts_learner_id_day", "attempts", ["learner_id", "day"])
    op.create_index(
        "ix_attempts_learner_id_finished_at_id", "attempts", ["learner_id", "finished_at", "id"]
    )
    op.create_index(
        "ix_attempts_learner_id_level_finished_at_id_score",
        "attempts",
        ["learner_id", "level", "finished_at", "id", "score"],
    )


def _papers() -> None:
    op.create_table(
        "papers",
        sa.Column("attempt_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("answer_text", sa.Text(), nullable=False),
        sa.Column("report", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["attempt_id"],
            ["attempts.id"],
            name="fk_papers_attempt_id_attempts",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("attempt_id", name="pk_papers"),
    )


def _bar_results() -> None:
    op.create_table(
        "bar_results",
        sa.Column("attempt_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("position", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("reference", sa.Integer()),
        sa.Column("answer", sa.Integer()),
        sa.Column("score", sa.Float()),
        sa.Column("root", sa.Float()),
        sa.Column("quality", sa.Float()),
        sa.Column("bass", sa.Float()),
        sa.Column("placement", sa.Float()),
        sa.Column("articulation", sa.Float()),
        sa.Column("meter", sa.Float()),
        sa.Column("key_change", sa.Float()),
        sa.Column("strict", sa.Float()),
        sa.Column("lag_beats", sa.Float()),
        sa.Column("played", sa.Text(), nullable=False),
        sa.Column("written", sa.Text(), nullable=False),
        sa.Column("mixed", sa.JSON(), nullable=False),
        sa.Column("skills", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["attempt_id"],
            ["attempts.id"],
            name="fk_bar_results_attempt_id_attempts",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("attempt_id", "position", name="pk_bar_results"),
        sqlite_with_rowid=False,
    )


def _skill_days() -> None:
    op.create_table(
        "skill_days",
        sa.Column("learner_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("skill", sa.String(length=80), nullable=False),
        sa.Column("bars", sa.Integer(), nullable=False),
        sa.Column("score_sum", sa.Float(), nullable=False),
        sa.Column("right", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["learner_id"],
            ["learners.id"],
            name="fk_skill_days_learner_id_learners",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("learner_id", "day", "skill", name="pk_skill_days"),
        sqlite_with_rowid=False,
    )


def _confusion_days() -> None:
    op.create_table(
        "confusion_days",
        sa.Column("learner_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("played", sa.Text(), nullable=False),
        sa.Column("written", sa.Text(), nullable=False),
        sa.Column("chords", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["learner_id"],
            ["learners.id"],
            name="fk_confusion_days_learner_id_learners",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("learner_id", "day", "played", "written", name="pk_confusion_days"),
        sqlite_with_rowid=False,
    )


def _drafts() -> None:
    op.create_table(
        "drafts",
        sa.Column("learner_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("exercise_id", sa.String(length=200), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("updated_at", MOMENT, nullable=False),
        sa.ForeignKeyConstraint(
            ["exercise_id"], ["exercises.id"], name="fk_drafts_exercise_id_exercises"
        ),
        sa.ForeignKeyConstraint(
            ["learner_id"],
            ["learners.id"],
            name="fk_drafts_learner_id_learners",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("learner_id", "exercise_id", name="pk_drafts"),
    )
