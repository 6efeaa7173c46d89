"""What practice needs: ratings, their days, self-tests, sets; and what a bar shows of the form.

Ratings are made from the attempts when they are first asked for, so none are written here.

Revision ID: 0002
"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"

ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    """Add columns and tables; find the home shifts in the reports that are kept."""
    op.add_column("attempts", sa.Column("home_shift", sa.String(length=40)))
    op.add_column("bar_results", sa.Column("phrase_end", sa.Float()))
    op.add_column("bar_results", sa.Column("section_start", sa.Float()))
    _find_home_shifts()
    _practice_states()
    _skill_states()
    _rating_days()
    _speed_results()
    _set_items()


def _find_home_shifts() -> None:
    papers = sa.table("papers", sa.column("attempt_id"), sa.column("report", sa.JSON()))
    attempts = sa.table("attempts", sa.column("id"), sa.column("home_shift"))
    kind = papers.c.report[("home_shift", "kind")].as_string()
    found = sa.select(kind).where(papers.c.attempt_id == attempts.c.id).scalar_subquery()
    op.execute(attempts.update().values(home_shift=found))


def _owner(table: str, *, of: str = "learner") -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        [f"{of}_id"],
        [f"{of}s.id"],
        name=f"fk_{table}_{of}_id_{of}s",
        ondelete="CASCADE",
    )


def _practice_states() -> None:
    op.create_table(
        "practice_states",
        sa.Column("learner_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("model", sa.Integer(), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("last_at", MOMENT),
        sa.Column("general", sa.Float(), nullable=False),
        sa.Column("general_variance", sa.Float(), nullable=False),
        sa.Column("weights", sa.JSON(), nullable=False),
        _owner("practice_states"),
        sa.PrimaryKeyConstraint("learner_id", name="pk_practice_states"),
    )


def _skill_states() -> None:
    op.create_table(
        "skill_states",
        sa.Column("learner_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("skill", sa.String(length=80), nullable=False),
        sa.Column("own", sa.Float(), nullable=False),
        sa.Column("variance", sa.Float(), nullable=False),
        sa.Column("bars", sa.Integer(), nullable=False),
        sa.Column("credit", sa.Float(), nullable=False),
        sa.Column("state", sa.Integer(), nullable=False),
        sa.Column("step", sa.Integer()),
        sa.Column("stability_days", sa.Float(), nullable=False),
        sa.Column("difficulty", sa.Float(), nullable=False),
        sa.Column("due", MOMENT, nullable=False),
        sa.Column("last_at", MOMENT, nullable=False),
        _owner("skill_states"),
        sa.PrimaryKeyConstraint("learner_id", "skill", name="pk_skill_states"),
        sqlite_with_rowid=False,
    )


def _rating_days() -> None:
    op.create_table(
        "rating_days",
        sa.Column("learner_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("skill", sa.String(length=80), nullable=False),
        sa.Column("mean", sa.Float(), nullable=False),
        sa.Column("variance", sa.Float(), nullable=False),
        _owner("rating_days"),
        sa.PrimaryKeyConstraint("learner_id", "day", "skill", name="pk_rating_days"),
        sqlite_with_rowid=False,
    )


def _speed_results() -> None:
    op.create_table(
        "speed_results",
        sa.Column("attempt_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("learner_id", ROW_ID, nullable=False),
        sa.Column("protocol", sa.String(length=40), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("kept_up", sa.Float(), nullable=False),
        sa.Column("right", sa.Float(), nullable=False),
        sa.Column("lag_beats", sa.Float()),
        _owner("speed_results", of="attempt"),
        _owner("speed_results"),
        sa.PrimaryKeyConstraint("attempt_id", name="pk_speed_results"),
    )
    op.create_index("ix_speed_results_learner_id", "speed_results", ["learner_id"])


def _set_items() -> None:
    op.create_table(
        "set_items",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("learner_id", ROW_ID, nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("skills", sa.JSON(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("status", sa.String(length=20), nullable=False),
        sa.Column("exercise_id", sa.String(length=200)),
        sa.Column("expected", sa.Float()),
        sa.Column("minutes", sa.Float()),
        sa.Column("changed_at", MOMENT, nullable=False),
        sa.ForeignKeyConstraint(
            ["exercise_id"], ["exercises.id"], name="fk_set_items_exercise_id_exercises"
        ),
        _owner("set_items"),
        sa.PrimaryKeyConstraint("id", name="pk_set_items"),
        sa.UniqueConstraint(
            "learner_id",
            "day",
            "number",
            "position",
            name="uq_set_items_learner_id_day_number_position",
        ),
    )
    op.create_index("ix_set_items_exercise_id", "set_items", ["exercise_id"])
