"""Exercises have owners, learners lasting ids; what is being written stands in one table.

Until here an exercise was shared by all who were given it; from here on each learner has a copy of
their own, which goes when the learner is deleted. Exercises that nobody has tried, drafted or been
set are dropped. Seats and drafts become drills, papers become submissions. Attempts on record keep
what they counted for: none of them is marked as seen.

Revision ID: 0004
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping
from hashlib import sha256
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"

ROW_ID = sa.BigInteger().with_variant(sa.Integer(), "sqlite")
MOMENT = sa.DateTime(timezone=True)
REFERRING = ("attempts", "drafts", "seats", "set_items")


def upgrade() -> None:
    """Change the tables and move every row."""
    _learners()
    _exercises()
    _drills()
    _referring("attempts", index=True)
    _referring("set_items", index=True, nullable=True)
    _submissions()
    _bar_results()
    for name in ("drafts", "seats", "exercise_copies"):
        op.drop_table(name)
    op.drop_table("exercises_before")


def _learners() -> None:
    op.add_column("learners", sa.Column("uid", sa.String(36)))
    op.add_column("learners", sa.Column("caution_at", MOMENT))
    learners = sa.table("learners", *map(sa.column, ("id", "uid", "created_at", "caution_at")))
    for (number,) in op.get_bind().execute(sa.select(learners.c.id)).fetchall():
        op.execute(
            learners.update()
            .where(learners.c.id == number)
            # Everybody was shown the caution before the first sound.
            .values(uid=str(uuid.uuid4()), caution_at=learners.c.created_at)
        )
    with op.batch_alter_table("learners") as batch:
        batch.alter_column("uid", existing_type=sa.String(36), nullable=False)
        batch.create_unique_constraint("uq_learners_uid", ["uid"])


def _exercises() -> None:
    """Give every learner a copy of each exercise they met; `exercise_copies` says which it is."""
    op.rename_table("exercises", "exercises_before")
    _free_names()
    op.create_table(
        "exercises",
        sa.Column("id", ROW_ID, nullable=False),
        sa.Column("key", sa.String(200), nullable=False),
        sa.Column("owner_id", ROW_ID, nullable=False),
        sa.Column("song", sa.String(64), nullable=False),
        sa.Column("level", sa.Integer()),
        sa.Column("origin", sa.String(20), nullable=False),
        sa.Column("title", sa.Text(), nullable=False),
        sa.Column("data", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_exercises"),
        sa.ForeignKeyConstraint(
            ["owner_id"], ["learners.id"], name="fk_exercises_owner_id_learners", ondelete="CASCADE"
        ),
        sa.UniqueConstraint("owner_id", "key", name="uq_exercises_owner_id_key"),
    )
    _copy_exercises()
    op.create_index("ix_exercises_owner_id_song", "exercises", ["owner_id", "song"])
    op.create_table(
        "exercise_copies",
        sa.Column("owner_id", ROW_ID, primary_key=True, autoincrement=False),
        sa.Column("key", sa.String(200), primary_key=True),
        sa.Column("id", ROW_ID, nullable=False),
    )
    op.execute(
        "INSERT INTO exercise_copies (owner_id, key, id) SELECT owner_id, key, id FROM exercises"
    )


def _free_names() -> None:
    """PostgreSQL keeps a constraint's name when its table is renamed."""
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            "ALTER TABLE exercises_before RENAME CONSTRAINT pk_exercises TO pk_exercises_before"
        )


def _copy_exercises() -> None:
    columns = ("id", "level", "origin", "title")
    before = sa.table("exercises_before", *map(sa.column, columns), sa.column("data", sa.JSON()))
    fields = ("key", "owner_id", "song", "level", "origin", "title")
    after = sa.table("exercises", *map(sa.column, fields), sa.column("data", sa.JSON()))
    met = sa.union(
        *(
            sa.select(table.c.learner_id, table.c.exercise_id).where(
                table.c.exercise_id.is_not(None)
            )
            for table in (
                sa.table(name, sa.column("learner_id"), sa.column("exercise_id"))
                for name in REFERRING
            )
        )
    ).subquery()
    query = sa.select(met.c.learner_id, before).join(before, before.c.id == met.c.exercise_id)
    query = query.order_by(met.c.learner_id, before.c.id)
    bind = op.get_bind()
    for rows in bind.execute(query).partitions(500):
        copies = [
            {
                "key": row.id,
                "owner_id": row.learner_id,
                "song": _digest(row.data["chart"]),
                "level": row.level,
                "origin": row.origin,
                "title": row.title,
                "data": row.data,
            }
            for row in rows
        ]
        bind.execute(after.insert(), copies)


def _digest(chart: Mapping[str, Any]) -> str:
    """`trainer.exercise.chart_digest` as it was when this migration was written."""
    told = {key: value for key, value in chart.items() if key != "text"}
    plain = json.dumps(told, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return sha256(plain.encode()).hexdigest()


def _referring(table: str, *, index: bool, nullable: bool = False) -> None:
    """Let a table's `exercise_id` name the learner's own copy by its number."""
    op.drop_index(f"ix_{table}_exercise_id", table)
    op.add_column(table, sa.Column("copy_id", ROW_ID))
    op.execute(
        f"UPDATE {table} SET copy_id = (SELECT id FROM exercise_copies "  # noqa: S608 - our own names
        f"WHERE owner_id = {table}.learner_id AND key = {table}.exercise_id)"
    )
    with op.batch_alter_table(table) as batch:
        batch.drop_constraint(f"fk_{table}_exercise_id_exercises", type_="foreignkey")
        batch.drop_column("exercise_id")
        batch.alter_column(
            "copy_id", new_column_name="exercise_id", existing_type=ROW_ID, nullable=nullable
        )
        if table == "attempts":
            batch.add_column(
                sa.Column("seen", sa.Boolean(), nullable=False, server_default=sa.false())
            )
    with op.batch_alter_table(table) as batch:
        batch.create_foreign_key(
            f"fk_{table}_exercise_id_exercises", "exercises", ["exercise_id"], ["id"]
        )
        if table == "attempts":
            batch.alter_column("seen", existing_type=sa.Boolean(), server_default=None)
    if index:
        op.create_index(f"ix_{table}_exercise_id", table, ["exercise_id"])


def _drills() -> None:
    """Join seats and drafts: an exercise may have either or both."""
    op.create_table(
        "drills",
        sa.Column("learner_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("exercise_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("token", sa.String(80), nullable=False),
        sa.Column("started_at", MOMENT, nullable=False),
        sa.Column("seen_at", MOMENT, nullable=False),
        sa.Column("speeds", sa.JSON(), nullable=False),
        sa.Column("position_s", sa.Float()),
        sa.Column("paused", sa.Boolean(), nullable=False),
        sa.Column("worked_s", sa.Float(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("text_at", MOMENT),
        sa.Column("stamps", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("learner_id", "exercise_id", name="pk_drills"),
        sa.ForeignKeyConstraint(
            ["learner_id"],
            ["learners.id"],
            name="fk_drills_learner_id_learners",
            ondelete="CASCADE",
        ),
        sa.ForeignKeyConstraint(
            ["exercise_id"], ["exercises.id"], name="fk_drills_exercise_id_exercises"
        ),
    )
    op.create_index("ix_drills_exercise_id", "drills", ["exercise_id"])
    op.execute(
        "INSERT INTO drills SELECT s.learner_id, c.id, s.token, s.started_at, s.seen_at, s.speeds, "
        "NULL, FALSE, s.worked_s, COALESCE(d.text, ''), d.updated_at, '' FROM seats s "
        "JOIN exercise_copies c ON c.owner_id = s.learner_id AND c.key = s.exercise_id "
        "LEFT JOIN drafts d ON d.learner_id = s.learner_id AND d.exercise_id = s.exercise_id"
    )
    _drafts_alone()


def _drafts_alone() -> None:
    """Drafts of versions that kept no seats: nothing is known of their listens."""
    bind = op.get_bind()
    found = bind.execute(
        sa.text(
            "SELECT d.learner_id, c.id FROM drafts d "
            "JOIN exercise_copies c ON c.owner_id = d.learner_id AND c.key = d.exercise_id "
            "LEFT JOIN seats s ON s.learner_id = d.learner_id AND s.exercise_id = d.exercise_id "
            "WHERE s.token IS NULL"
        )
    ).fetchall()
    adding = sa.text(
        "INSERT INTO drills SELECT d.learner_id, c.id, :token, d.updated_at, d.updated_at, '[]', "
        "NULL, FALSE, 0, d.text, d.updated_at, '' FROM drafts d "
        "JOIN exercise_copies c ON c.owner_id = d.learner_id AND c.key = d.exercise_id "
        "WHERE d.learner_id = :learner AND c.id = :exercise"
    )
    for learner, exercise in found:
        values = {"token": uuid.uuid4().hex, "learner": learner, "exercise": exercise}
        bind.execute(adding, values)


def _submissions() -> None:
    op.create_table(
        "submissions",
        sa.Column("attempt_id", ROW_ID, autoincrement=False, nullable=False),
        sa.Column("answer_text", sa.Text(), nullable=False),
        sa.Column("report", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["attempt_id"],
            ["attempts.id"],
            name="fk_submissions_attempt_id_attempts",
            ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("attempt_id", name="pk_submissions"),
    )
    op.execute("INSERT INTO submissions SELECT attempt_id, answer_text, report FROM papers")
    op.drop_table("papers")


def _bar_results() -> None:
    """Keep a bar's chords as a list; until here they were joined by "_"."""
    op.execute("ALTER TABLE bar_results RENAME COLUMN mixed TO confusions")
    for name in ("played", "written"):
        op.execute(
            f"UPDATE bar_results SET {name} = CASE {name} WHEN '' THEN '[]' "  # noqa: S608 - ours
            f"""ELSE '["' || replace({name}, '_', '","') || '"]' END"""
        )
