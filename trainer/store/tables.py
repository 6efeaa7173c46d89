"""The tables. A change here needs a migration; a test compares the two.

Bars are kept with their attempt and never searched across attempts. What the progress page asks
is summed by day, in the same transaction that adds the attempt, so that it reads thousands of rows
where a learner has a million bars. Everything summed can be rebuilt from the bars.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any, TypeVar

from msgspec.json import Decoder
from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Date,
    DateTime,
    Dialect,
    Float,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)
from sqlalchemy.types import TypeDecorator

from trainer.store.columns import StoredJson, StoredText, read_json
from trainer.store.records import as_utc

__all__ = [
    "attempts",
    "bar_results",
    "confusion_days",
    "drills",
    "exercises",
    "learners",
    "lesson_runs",
    "metadata",
    "practice_states",
    "rating_days",
    "seen_songs",
    "set_items",
    "skill_days",
    "skill_states",
    "song_set_items",
    "song_sets",
    "song_tags",
    "song_versions",
    "songs",
    "speed_results",
    "submissions",
]


T = TypeVar("T")
Pairs = list[tuple[T, T]]


class UtcDateTime(TypeDecorator[datetime]):
    """A moment, UTC going in and coming out."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, _: Dialect) -> datetime | None:
        """Refuse naive times and turn the rest into UTC."""
        return None if value is None else as_utc(value, "time to store")

    def process_result_value(self, value: datetime | None, _: Dialect) -> datetime | None:
        """Give back UTC; SQLite keeps no time zone."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


_read_chords = Decoder(tuple[str, ...]).decode


class Chords(TypeDecorator[tuple[str, ...]]):
    """The names of a bar's chords in order, as a JSON list in a text column."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: tuple[str, ...] | None, _: Dialect) -> str | None:
        """Write the list."""
        return None if value is None else json.dumps(value, separators=(",", ":"))

    def process_result_value(self, value: str | None, _: Dialect) -> tuple[str, ...] | None:
        """Read the list."""
        if value is None:
            return None
        found: tuple[str, ...] = read_json(value, _read_chords, "bar_results")
        return found


# SQLite numbers rows itself only for a key of exactly the type INTEGER.
RowId = BigInteger().with_variant(Integer, "sqlite")

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def _of_learner(**options: bool) -> Column[int]:
    """A learner's key; what hangs on it goes when the learner is deleted."""
    key = ForeignKey("learners.id", ondelete="CASCADE")
    return Column("learner_id", RowId, key, nullable=False, **options)  # type: ignore[arg-type]


def _of_exercise(*, nullable: bool = False, primary_key: bool = False) -> Column[int]:
    """An exercise's key."""
    key = ForeignKey("exercises.id")
    if primary_key:
        return Column("exercise_id", RowId, key, primary_key=True, autoincrement=False)
    return Column("exercise_id", RowId, key, nullable=nullable)


def _of_attempt() -> Column[int]:
    """An attempt's key, first in the primary key of what belongs to it."""
    key = ForeignKey("attempts.id", ondelete="CASCADE")
    return Column("attempt_id", RowId, key, primary_key=True, autoincrement=False)


learners = Table(
    "learners",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("uid", String(36), nullable=False),
    Column("name", String(80), nullable=False),
    Column("created_at", UtcDateTime, nullable=False),
    Column("caution_at", UtcDateTime),
    UniqueConstraint("uid"),
    UniqueConstraint("name"),
)

# `key` is the exercise's own id, `song` the digest that tells its song from another.
exercises = Table(
    "exercises",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("key", String(200), nullable=False),
    Column("owner_id", RowId, ForeignKey("learners.id", ondelete="CASCADE"), nullable=False),
    Column("song", String(64), nullable=False),
    Column("level", Integer),
    Column("origin", String(20), nullable=False),
    Column("title", Text, nullable=False),
    Column("data", StoredJson("exercises.data", dict[str, Any]), nullable=False),
    UniqueConstraint("owner_id", "key"),
    Index(None, "owner_id", "song"),
)

attempts = Table(
    "attempts",
    metadata,
    Column("id", RowId, primary_key=True),
    _of_learner(),
    _of_exercise(),
    Column("level", Integer),
    Column("started_at", UtcDateTime, nullable=False),
    Column("finished_at", UtcDateTime, nullable=False),
    Column("day", Date, nullable=False),
    Column("duration_s", Float, nullable=False),
    Column("score", Float, nullable=False),
    Column("bars", Integer, nullable=False),
    Column("listens", Integer, nullable=False),
    Column("paused", Boolean, nullable=False),
    Column("tempo_ratio", Float, nullable=False),
    Column("first_pass", Boolean, nullable=False),
    Column("lag_beats", Float),
    Column("app_version", String(40), nullable=False),
    Column("token", String(80)),
    Column("home_shift", String(40)),
    Column("seen", Boolean, nullable=False),
    Column("passed", Boolean),
    Column("level_id", String(40)),
    Column("hidden_until", UtcDateTime),
    UniqueConstraint("learner_id", "token"),
    Index(None, "learner_id", "finished_at", "id"),
    # The score rides along so that the best of each level is read from the index alone.
    Index(None, "learner_id", "level_id", "finished_at", "id", "score"),
    Index(None, "learner_id", "day"),
    Index(None, "learner_id", "hidden_until"),
    Index(None, "exercise_id"),
)

# Apart from their attempt, so that reading a history does not page through them.
submissions = Table(
    "submissions",
    metadata,
    _of_attempt(),
    Column("answer_text", StoredText, nullable=False),
    Column("report", StoredJson("submissions.report", dict[str, Any]), nullable=False),
)

bar_results = Table(
    "bar_results",
    metadata,
    _of_attempt(),
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("reference", Integer),
    Column("answer", Integer),
    Column("score", Float),
    Column("root", Float),
    Column("quality", Float),
    Column("bass", Float),
    Column("placement", Float),
    Column("articulation", Float),
    Column("meter", Float),
    Column("key_change", Float),
    Column("strict", Float),
    Column("lag_beats", Float),
    Column("played", Chords, nullable=False),
    Column("written", Chords, nullable=False),
    Column("confusions", StoredJson("bar_results.confusions", Pairs[str]), nullable=False),
    Column("skills", StoredJson("bar_results.skills", list[str]), nullable=False),
    Column("phrase_end", Float),
    Column("section_start", Float),
    sqlite_with_rowid=False,
)

skill_days = Table(
    "skill_days",
    metadata,
    _of_learner(primary_key=True, autoincrement=False),
    Column("day", Date, primary_key=True),
    Column("skill", String(80), primary_key=True),
    Column("bars", Integer, nullable=False),
    Column("score_sum", Float, nullable=False),
    Column("right", Integer, nullable=False),
    sqlite_with_rowid=False,
)

confusion_days = Table(
    "confusion_days",
    metadata,
    _of_learner(primary_key=True, autoincrement=False),
    Column("day", Date, primary_key=True),
    Column("played", Text, primary_key=True),
    Column("written", Text, primary_key=True),
    Column("chords", Integer, nullable=False),
    sqlite_with_rowid=False,
)

# An exercise being written: `trainer.store.records.OpenDrill`.
drills = Table(
    "drills",
    metadata,
    _of_learner(primary_key=True, autoincrement=False),
    _of_exercise(primary_key=True),
    Column("token", String(80), nullable=False),
    Column("started_at", UtcDateTime, nullable=False),
    Column("seen_at", UtcDateTime, nullable=False),
    Column("speeds", StoredJson("drills.speeds", list[int]), nullable=False),
    Column("position_s", Float),
    Column("paused", Boolean, nullable=False),
    Column("worked_s", Float, nullable=False),
    Column("text", StoredText, nullable=False),
    Column("text_at", UtcDateTime),
    Column("stamps", Text, nullable=False),
    Column("first_listen_at", UtcDateTime),
    Index(None, "exercise_id"),
)

# What practice knows of a learner: made from the attempts, in their order, and from nothing else.
practice_states = Table(
    "practice_states",
    metadata,
    _of_learner(primary_key=True, autoincrement=False),
    Column("model", Integer, nullable=False),
    Column("attempts", Integer, nullable=False),
    Column("last_at", UtcDateTime),
    Column("general", Float, nullable=False),
    Column("general_variance", Float, nullable=False),
    Column("weights", StoredJson("practice_states.weights", Pairs[float]), nullable=False),
)

skill_states = Table(
    "skill_states",
    metadata,
    _of_learner(primary_key=True, autoincrement=False),
    Column("skill", String(80), primary_key=True),
    Column("own", Float, nullable=False),
    Column("variance", Float, nullable=False),
    Column("bars", Integer, nullable=False),
    Column("credit", Float, nullable=False),
    Column("state", Integer, nullable=False),
    Column("step", Integer),
    Column("stability_days", Float, nullable=False),
    Column("difficulty", Float, nullable=False),
    Column("due", UtcDateTime, nullable=False),
    Column("last_at", UtcDateTime, nullable=False),
    sqlite_with_rowid=False,
)

rating_days = Table(
    "rating_days",
    metadata,
    _of_learner(primary_key=True, autoincrement=False),
    Column("day", Date, primary_key=True),
    Column("skill", String(80), primary_key=True),
    Column("mean", Float, nullable=False),
    Column("variance", Float, nullable=False),
    sqlite_with_rowid=False,
)

speed_results = Table(
    "speed_results",
    metadata,
    _of_attempt(),
    _of_learner(index=True),
    Column("protocol", String(40), nullable=False),
    Column("at", UtcDateTime, nullable=False),
    Column("kept_up", Float, nullable=False),
    Column("right", Float, nullable=False),
    Column("lag_beats", Float),
)

# The sets as they were planned and what became of each item.
set_items = Table(
    "set_items",
    metadata,
    Column("id", RowId, primary_key=True),
    _of_learner(),
    Column("day", Date, nullable=False),
    Column("number", Integer, nullable=False),
    Column("position", Integer, nullable=False),
    Column("kind", String(20), nullable=False),
    Column("skills", StoredJson("set_items.skills", list[str]), nullable=False),
    Column("reason", Text, nullable=False),
    Column("status", String(20), nullable=False),
    _of_exercise(nullable=True),
    Column("expected", Float),
    Column("minutes", Float),
    Column("changed_at", UtcDateTime, nullable=False),
    UniqueConstraint("learner_id", "day", "number", "position"),
    Index(None, "exercise_id"),
)

# One go at the quick questions of a lesson: `trainer.store.records.LessonRun`.
lesson_runs = Table(
    "lesson_runs",
    metadata,
    Column("id", RowId, primary_key=True),
    _of_learner(),
    Column("lesson", String(80), nullable=False),
    Column("seed", BigInteger, nullable=False),
    Column("day", Date, nullable=False),
    Column("started_at", UtcDateTime, nullable=False),
    Column("answered_at", UtcDateTime),
    Column("answers", StoredJson("lesson_runs.answers", Pairs[str]), nullable=False),
    Column("app_version", String(40), nullable=False),
    UniqueConstraint("learner_id", "lesson", "started_at"),
)

# A learner's own song: `trainer.store.song_records.SongRecord`. `search` is what a search looks
# through: title, tags and text, folded (`fold`). The draft is what was typed since version
# `draft_from` and not saved as a version yet; the text is null where there is none.
songs = Table(
    "songs",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("uid", String(36), nullable=False),
    _of_learner(index=True),
    Column("made_at", UtcDateTime, nullable=False),
    Column("deleted_at", UtcDateTime),
    Column("shared", Boolean, nullable=False),
    Column("newest", Integer, nullable=False),
    Column("search", StoredText, nullable=False),
    Column("draft", StoredText),
    Column("draft_from", Integer),
    Column("draft_at", UtcDateTime),
    UniqueConstraint("uid"),
)


def _of_song() -> Column[int]:
    """A song's key, first in the primary key of what belongs to it."""
    key = ForeignKey("songs.id", ondelete="CASCADE")
    return Column("song_id", RowId, key, primary_key=True, autoincrement=False)


# A song as it was saved once. `began_from` is the version that the writer had before them.
song_versions = Table(
    "song_versions",
    metadata,
    _of_song(),
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("began_from", Integer),
    Column("text", StoredText, nullable=False),
    Column("title", StoredText, nullable=False),
    Column("key", String(20), nullable=False),
    Column("tempo", Float, nullable=False),
    Column("meter", String(10), nullable=False),
    Column("bars", Integer, nullable=False),
    Column("saved_at", UtcDateTime, nullable=False),
)

song_tags = Table(
    "song_tags",
    metadata,
    _of_song(),
    Column("tag", String(40), primary_key=True),
    sqlite_with_rowid=False,
)

song_sets = Table(
    "song_sets",
    metadata,
    Column("id", RowId, primary_key=True),
    Column("uid", String(36), nullable=False),
    _of_learner(index=True),
    Column("name", StoredText, nullable=False),
    Column("made_at", UtcDateTime, nullable=False),
    UniqueConstraint("uid"),
)

# `song` is a song's uid and no key, because a set may hold a song of the house band, which stands
# in no table, and outlives a song that is deleted.
song_set_items = Table(
    "song_set_items",
    metadata,
    Column(
        "set_id",
        RowId,
        ForeignKey("song_sets.id", ondelete="CASCADE"),
        primary_key=True,
        autoincrement=False,
    ),
    Column("position", Integer, primary_key=True, autoincrement=False),
    Column("song", String(60), nullable=False),
    Column("key", String(20)),
    sqlite_with_rowid=False,
)

# The charts that a learner was shown outside of results, by `trainer.exercise.song_digest`.
seen_songs = Table(
    "seen_songs",
    metadata,
    _of_learner(primary_key=True, autoincrement=False),
    Column("song", String(64), primary_key=True),
    sqlite_with_rowid=False,
)
