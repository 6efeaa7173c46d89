"""A learner's data out of the store and into another: JSON whole, CSV for people."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict
from datetime import date, datetime
from typing import Any, TypeVar

from sqlalchemy import Connection, Table, select

from trainer.errors import FileError
from trainer.store.attempts import add_attempt
from trainer.store.bars import BATCH, stored_bars
from trainer.store.database import Database, upsert
from trainer.store.exercises import find_exercise, keep_exercise
from trainer.store.learners import add_learner
from trainer.store.records import BarResult, Imported, Learner, as_utc
from trainer.store.tables import attempts, bar_results, drafts, exercises, papers

__all__ = ["CSV_HEADER", "Transfer"]

FORMAT = "chart-trainer learner"
VERSION = 1
MOMENTS = ("started_at", "finished_at")
CSV_HEADER = (
    "finished_at",
    "title",
    "level",
    "exercise",
    "score",
    "bars",
    "minutes",
    "listens",
    "first_pass",
    "paused",
    "tempo_ratio",
    "lag_beats",
)

Json = Mapping[str, Any]
T = TypeVar("T")


class Transfer:
    """Export and import of one learner's data."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def export_json(self, learner: Learner) -> dict[str, Any]:
        """All that is stored about a learner, as plain JSON values; `import_json` takes it back."""
        with self._database.reading() as connection:
            entries = [*_attempts_out(connection, learner)]
            unfinished = [*_drafts_out(connection, learner)]
            ids = dict.fromkeys(entry["exercise_id"] for entry in entries + unfinished)
            kept = [_exercise_out(connection, exercise_id) for exercise_id in ids]
        return {
            "format": FORMAT,
            "version": VERSION,
            "learner": {"name": learner.name, "created_at": learner.created_at.isoformat()},
            "exercises": kept,
            "attempts": entries,
            "drafts": unfinished,
        }

    def import_json(self, data: Json, name: str | None = None) -> Imported:
        """Add what `export_json` gave to the learner of that name (or `name`): all or nothing.

        What is there already stays as it is, so importing twice adds nothing.

        Raises
        ------
        FileError
            If the data is not such an export; says where.
        StoreError
            If an exercise is kept here with another chart under the same id.
        """
        if data.get("format") != FORMAT or data.get("version") != VERSION:
            raise FileError(
                f"import: found format {data.get('format')!r}, version {data.get('version')!r}, "
                f"expected {FORMAT!r}, version {VERSION}"
            )
        with self._database.writing() as connection:
            learner = _told("learner", _learner_in, connection, data, name)
            for number, entry in enumerate(_list(data, "exercises")):
                _told(f"exercises[{number}]", _exercise_in, connection, entry)
            added = 0
            for number, entry in enumerate(_list(data, "attempts")):
                added += _told(f"attempts[{number}]", _attempt_in, connection, learner, entry)
            for number, entry in enumerate(_list(data, "drafts")):
                _told(f"drafts[{number}]", _draft_in, connection, learner, entry)
        return Imported(learner, added, len(data["attempts"]) - added)

    def csv_rows(self, learner: Learner) -> Iterator[tuple[str, ...]]:
        """The history as rows of text for a CSV writer: a header, then oldest first."""
        yield CSV_HEADER
        query = (
            select(attempts, exercises.c.title)
            .join(exercises, attempts.c.exercise_id == exercises.c.id)
            .where(attempts.c.learner_id == learner.id)
            .order_by(attempts.c.finished_at, attempts.c.id)
        )
        with self._database.reading() as connection:
            for row in connection.execute(query).mappings():
                yield _csv_row(row)


def _csv_row(row: Mapping[Any, Any]) -> tuple[str, ...]:
    level, lag = row["level"], row["lag_beats"]
    return (
        row["finished_at"].isoformat(timespec="seconds"),
        row["title"],
        "" if level is None else str(level),
        row["exercise_id"],
        f"{row['score']:.4f}",
        str(row["bars"]),
        f"{row['duration_s'] / 60:.2f}",
        str(row["listens"]),
        "yes" if row["first_pass"] else "no",
        "yes" if row["paused"] else "no",
        f"{row['tempo_ratio']:g}",
        "" if lag is None else f"{lag:.2f}",
    )


def _attempts_out(connection: Connection, learner: Learner) -> Iterator[dict[str, Any]]:
    query = (
        select(attempts, papers.c.answer_text, papers.c.report)
        .join(papers, papers.c.attempt_id == attempts.c.id)
        .where(attempts.c.learner_id == learner.id)
        .order_by(attempts.c.finished_at, attempts.c.id)
    )
    for rows in connection.execute(query).mappings().partitions(BATCH):
        bars = stored_bars(connection, [row["id"] for row in rows])
        for row in rows:
            entry = {key: row[key] for key in row if key not in ("id", "learner_id")}
            for key in (*MOMENTS, "day"):
                entry[key] = entry[key].isoformat()
            entry["bar_results"] = [_bar_out(bar) for bar in bars[row["id"]]]
            yield entry


def _bar_out(bar: BarResult) -> dict[str, Any]:
    return {**asdict(bar), "mixed": list(map(list, bar.mixed)), "skills": list(bar.skills)}


def _drafts_out(connection: Connection, learner: Learner) -> Iterator[dict[str, Any]]:
    query = select(drafts).where(drafts.c.learner_id == learner.id).order_by(drafts.c.exercise_id)
    for row in connection.execute(query):
        yield {
            "exercise_id": row.exercise_id,
            "text": row.text,
            "updated_at": row.updated_at.isoformat(),
        }


def _exercise_out(connection: Connection, exercise_id: str) -> dict[str, Any]:
    exercise = find_exercise(connection, exercise_id)
    assert exercise is not None
    return {"origin": exercise.origin, "data": exercise.data}


def _told(place: str, read: Callable[..., T], *arguments: Any) -> T:
    """Read one entry; what is wrong with it is told with its place."""
    try:
        return read(*arguments)
    except KeyError as error:
        raise FileError(f"import, {place}: found no {error}, expected it") from error
    except (ValueError, TypeError, AttributeError) as error:
        raise FileError(f"import, {place}: {error}") from error


def _list(data: Json, key: str) -> list[Any]:
    found = data.get(key)
    if not isinstance(found, list):
        raise FileError(f"import, {key}: found {type(found).__name__}, expected a list")
    return found


def _moment(entry: Json, key: str) -> datetime:
    return as_utc(datetime.fromisoformat(entry[key]), key)


def _learner_in(connection: Connection, data: Json, name: str | None) -> Learner:
    entry = data["learner"]
    return add_learner(connection, name or entry["name"], _moment(entry, "created_at"))


def _exercise_in(connection: Connection, entry: Json) -> None:
    keep_exercise(connection, entry["data"], entry["origin"])


def _attempt_in(connection: Connection, learner: Learner, entry: Json) -> bool:
    """Add an attempt unless it is there; whether it was added."""
    given = {**entry, "day": date.fromisoformat(entry["day"])}
    given |= {name: _moment(entry, name) for name in MOMENTS}
    row = {"learner_id": learner.id, **_fitting(attempts, given, {"id", "learner_id"})}
    same = [attempts.c[name] == row[name] for name in ("learner_id", "exercise_id", *MOMENTS)]
    if connection.execute(select(attempts.c.id).where(*same)).first():
        return False
    bars = [
        BarResult(
            **_fitting(bar_results, bar, {"attempt_id", "mixed", "skills"}),
            mixed=tuple((str(played), str(written)) for played, written in bar["mixed"]),
            skills=tuple(map(str, bar["skills"])),
        )
        for bar in entry["bar_results"]
    ]
    paper = _fitting(papers, entry, {"attempt_id"})
    add_attempt(connection, row, paper["answer_text"], paper["report"], bars)
    return True


def _fitting(table: Table, entry: Json, without: set[str]) -> dict[str, Any]:
    """The table's columns out of an entry, each of the kind the column holds.

    SQLite itself would keep a text where a number belongs.
    """
    fitting = {}
    for column in table.c:
        if column.name in without:
            continue
        # Exports of older versions lack what was added since; all of that may be null.
        value = entry.get(column.name) if column.nullable else entry[column.name]
        kind = column.type.python_type
        kinds = {float: (float, int), dict: (dict, list)}.get(kind, (kind,))
        is_truth = isinstance(value, bool) and bool not in kinds
        if not (value is None and column.nullable) and (is_truth or not isinstance(value, kinds)):
            raise ValueError(f"{column.name}: found {value!r}, expected {kind.__name__}")
        fitting[column.name] = value
    return fitting


def _draft_in(connection: Connection, learner: Learner, entry: Json) -> None:
    row = {
        "learner_id": learner.id,
        "exercise_id": entry["exercise_id"],
        "text": entry["text"],
        "updated_at": _moment(entry, "updated_at"),
    }
    upsert(connection, drafts, [row])
