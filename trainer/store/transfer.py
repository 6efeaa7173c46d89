"""A learner's record out of the store as JSON and CSV, and such JSON read back and checked.

What an import changes in ratings and sums is worked out by `trainer.drill.importing`. The song of
an exercise that is not answered yet stays here: an export has what was typed, but not the exercise.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime
from math import isfinite
from typing import Annotated, Any, TypeVar

from msgspec import Meta, Struct, ValidationError, convert, to_builtins
from sqlalchemy import select

from trainer.errors import FileError, InputError, StoreBroken
from trainer.exercise import Exercise, exercise_from_json, exercise_to_json
from trainer.practice import GradedBar
from trainer.store.assigned import AssignedWork
from trainer.store.attempts import Attempts
from trainer.store.database import Database
from trainer.store.drills import OpenDrills
from trainer.store.lesson_runs import LessonRuns
from trainer.store.migrations.signs import new_text
from trainer.store.migrations.stored_signs import new_bar, new_exercise, new_report
from trainer.store.records import (
    AttemptRecord,
    ExerciseRecord,
    Learner,
    LessonRun,
    NewLessonRun,
    StoredAttempt,
    as_utc,
    storable,
)
from trainer.store.reports import read_report
from trainer.store.song_transfer import Digest, SetEntry, SongEntry, songs_out
from trainer.store.tables import attempts, exercises, submissions

__all__ = [
    "CSV_HEADER",
    "AttemptEntry",
    "DraftEntry",
    "LearnerExport",
    "LessonEntry",
    "Transfer",
    "read_export",
]

FORMAT = "chart-trainer learner"
VERSION = 4
READABLE = (1, 2, 3, 4)
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
    "seen",
    "level_id",
)
EARLIEST, LATEST = 1970, 2199
MOST_DEEP = 50

T = TypeVar("T")
Score = Annotated[float, Meta(ge=0, le=1)]
Count = Annotated[int, Meta(ge=0, le=1_000_000)]
Seconds = Annotated[float, Meta(ge=0, le=1e8)]
Beats = Annotated[float, Meta(ge=-1e6, le=1e6)]
Moment = Annotated[datetime, Meta(tz=True)]
Short = Annotated[str, Meta(max_length=200)]
Text = Annotated[str, Meta(max_length=100_000)]


class BarEntry(Struct):
    """A graded bar in an export."""

    position: Count
    reference: Count | None
    answer: Count | None
    score: Score | None
    root: Score | None
    quality: Score | None
    bass: Score | None
    placement: Score | None
    articulation: Score | None
    meter: Score | None
    key_change: Score | None
    strict: Score | None
    lag_beats: Beats | None
    played: tuple[Short, ...]
    written: tuple[Short, ...]
    confusions: tuple[tuple[Short, Short], ...]
    skills: tuple[Short, ...]
    phrase_end: Score | None = None
    section_start: Score | None = None


class AttemptEntry(Struct):
    """An attempt in an export."""

    exercise_id: Short
    started_at: Moment
    finished_at: Moment
    day: date
    duration_s: Seconds
    score: Score
    listens: Count
    paused: bool
    tempo_ratio: Annotated[float, Meta(gt=0, le=10)]
    first_pass: bool
    app_version: Annotated[str, Meta(max_length=40)]
    answer_text: Text
    report: dict[str, Any]
    bar_results: tuple[BarEntry, ...]
    token: Annotated[str, Meta(max_length=80)] | None = None
    home_shift: Annotated[str, Meta(max_length=40)] | None = None
    seen: bool = False
    passed: bool | None = None

    def graded_bars(self) -> tuple[GradedBar, ...]:
        """The bars as practice takes them."""
        names = BarEntry.__struct_fields__
        return tuple(
            GradedBar(**{name: getattr(bar, name) for name in names}) for bar in self.bar_results
        )


class DraftEntry(Struct):
    """What was typed at an exercise that is not submitted yet."""

    exercise_id: Short
    text: Text
    updated_at: Moment


class LessonEntry(Struct):
    """One go at the quick questions of a lesson, in an export."""

    lesson: Annotated[str, Meta(min_length=1, max_length=80)]
    seed: Annotated[int, Meta(ge=0, le=10**12)]
    day: date
    started_at: Moment
    app_version: Annotated[str, Meta(max_length=40)]
    answered_at: Moment | None = None
    answers: Annotated[tuple[tuple[Short, Short], ...], Meta(max_length=100)] = ()

    def run(self) -> NewLessonRun:
        """The run as the store takes it."""
        names = LessonEntry.__struct_fields__
        return NewLessonRun(**{name: getattr(self, name) for name in names})


class LearnerEntry(Struct):
    """Whose record an export is."""

    name: Annotated[str, Meta(min_length=1, max_length=80)]
    created_at: Moment
    uid: Annotated[str, Meta(pattern=r"^[0-9a-f-]{1,36}$")] | None = None


class LearnerExport(Struct):
    """A learner's record as an export holds it, checked."""

    learner: LearnerEntry
    exercises: tuple[Exercise, ...]
    attempts: tuple[AttemptEntry, ...]
    drafts: tuple[DraftEntry, ...]
    lessons: tuple[LessonEntry, ...] = ()
    songs: tuple[SongEntry, ...] = ()
    song_sets: tuple[SetEntry, ...] = ()
    songs_shown: tuple[str, ...] = ()


class Transfer:
    """Exports of one learner's record."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def export_json(self, learner: Learner) -> dict[str, Any]:
        """All that is stored about a learner, as plain JSON values; `read_export` takes it back.

        Attempts whose results are not shown yet are left out. What classes keep of the learner is
        there to be read; it belongs to the class and is not taken back.
        """
        log = list(Attempts(self._database).log(learner))
        unfinished = OpenDrills(self._database).all(learner)
        kept = {each.exercise.key: each.exercise for each in log}
        for_classes = AssignedWork(self._database).told_of(learner)
        return {
            "format": FORMAT,
            "version": VERSION,
            "learner": {
                "uid": learner.uid,
                "name": learner.name,
                "created_at": learner.created_at.isoformat(),
            },
            "exercises": [_exercise_out(each) for each in kept.values()],
            "attempts": [*self._attempts_out(learner, log)],
            "drafts": [
                {
                    "exercise_id": exercise.key,
                    "title": exercise.exercise.chart.title,
                    "text": drill.text,
                    "updated_at": (drill.text_at or drill.seen_at).isoformat(),
                }
                for exercise, drill in unfinished
                if drill.text
            ],
            "lessons": [_lesson_out(run) for run in LessonRuns(self._database).all(learner)],
            **songs_out(self._database, learner),
            **({"class_work": list(for_classes)} if for_classes else {}),
        }

    def csv_rows(self, learner: Learner) -> Iterator[tuple[str, ...]]:
        """The history as rows of text for a CSV writer: a header, then oldest first; without the
        attempts whose results are not shown yet."""
        yield CSV_HEADER
        query = (
            select(attempts, exercises.c.title, exercises.c.key)
            .join(exercises, attempts.c.exercise_id == exercises.c.id)
            .where(attempts.c.learner_id == learner.id, attempts.c.hidden_until.is_(None))
            .order_by(attempts.c.finished_at, attempts.c.id)
        )
        with self._database.reading() as connection:
            for row in connection.execute(query).mappings():
                yield _csv_row(row)

    def _attempts_out(
        self, learner: Learner, log: Sequence[StoredAttempt]
    ) -> Iterator[dict[str, Any]]:
        """Entries in the order of the log; texts and reports are read a row at a time."""
        query = (
            select(submissions)
            .join(attempts, attempts.c.id == submissions.c.attempt_id)
            .where(attempts.c.learner_id == learner.id, attempts.c.hidden_until.is_(None))
            .order_by(attempts.c.id)
        )
        with self._database.reading() as connection:
            for each, row in zip(log, connection.execute(query), strict=False):
                entry = _record_out(each.record) | {
                    "answer_text": row.answer_text,
                    "report": row.report,
                    "bar_results": [_bar_out(bar) for bar in each.bars],
                }
                yield entry


def _record_out(record: AttemptRecord) -> dict[str, Any]:
    entry: dict[str, Any] = to_builtins(record)
    for name in ("started_at", "finished_at"):
        entry[name] = getattr(record, name).isoformat()
    for name in ("id", "learner_id", "title", "origin", "hidden_until"):
        del entry[name]
    return entry


def _bar_out(bar: GradedBar) -> dict[str, Any]:
    entry: dict[str, Any] = to_builtins(bar)
    return entry


def _lesson_out(run: LessonRun) -> dict[str, Any]:
    entry: dict[str, Any] = to_builtins(run)
    del entry["id"]
    for name in ("started_at", "answered_at"):
        moment: datetime | None = getattr(run, name)
        entry[name] = moment.isoformat() if moment is not None else None
    return entry


def _exercise_out(exercise: ExerciseRecord) -> dict[str, Any]:
    return {"origin": exercise.origin, "data": exercise_to_json(exercise.exercise)}


def _csv_row(row: Mapping[Any, Any]) -> tuple[str, ...]:
    level, lag = row["level"], row["lag_beats"]
    return (
        row["finished_at"].isoformat(timespec="seconds"),
        row["title"],
        "" if level is None else str(level),
        row["key"],
        f"{row['score']:.4f}",
        str(row["bars"]),
        f"{row['duration_s'] / 60:.2f}",
        str(row["listens"]),
        "yes" if row["first_pass"] else "no",
        "yes" if row["paused"] else "no",
        f"{row['tempo_ratio']:g}",
        "" if lag is None else f"{lag:.2f}",
        "yes" if row["seen"] else "no",
        row["level_id"] or "",
    )


def read_export(data: Mapping[str, Any]) -> LearnerExport:
    """Read and check an export of this version or an earlier one.

    Raises
    ------
    FileError
        If the data is not such an export; says where, what was found and what was expected.
    """
    if data.get("format") != FORMAT or data.get("version") not in READABLE:
        raise FileError(
            f"import: found format {data.get('format')!r}, version {data.get('version')!r}, "
            f"expected {FORMAT!r}, version {VERSION} or earlier"
        )
    version = data["version"]
    return LearnerExport(
        learner=_read("learner", _storable_json("learner", data.get("learner")), LearnerEntry),
        exercises=tuple(
            _exercise(place, new_exercise(entry) if version < 3 else entry)
            for place, entry in _entries(data, "exercises")
        ),
        attempts=tuple(
            _attempt(place, _newer_attempt(entry, version))
            for place, entry in _entries(data, "attempts")
        ),
        drafts=tuple(
            _read(place, _newer_draft(entry, version), DraftEntry)
            for place, entry in _entries(data, "drafts")
        ),
        lessons=tuple(_lesson(*each) for each in _entries({"lessons": [], **data}, "lessons")),
        songs=tuple(_song(*each) for each in _entries({"songs": [], **data}, "songs")),
        song_sets=tuple(
            _song_set(*each) for each in _entries({"song_sets": [], **data}, "song_sets")
        ),
        songs_shown=tuple(
            _read(place, entry, Digest)
            for place, entry in _entries({"songs_shown": [], **data}, "songs_shown")
        ),
    )


def _entries(data: Mapping[str, Any], key: str) -> Iterator[tuple[str, Any]]:
    """The entries of a list, each with its place."""
    found = data.get(key)
    if not isinstance(found, list):
        raise FileError(f"import, {key}: found {type(found).__name__}, expected a list")
    for number, entry in enumerate(found):
        place = f"{key}[{number}]"
        yield place, _storable_json(place, entry)


def _storable_json(place: str, value: Any, depth: int = 0) -> Any:
    """JSON whose texts a database can hold. Raises FileError for what no JSON has, or too deep."""
    if isinstance(value, float) and not isfinite(value):
        raise FileError(f"import, {place}: found {value}, expected a finite number")
    if depth > MOST_DEEP:
        raise FileError(
            f"import, {place}: found lists nested more than {MOST_DEEP} deep, expected fewer levels"
        )
    if isinstance(value, str):
        return storable(value)
    if isinstance(value, Mapping):
        return {
            storable(str(key)): _storable_json(place, each, depth + 1)
            for key, each in value.items()
        }
    if isinstance(value, list):
        return [_storable_json(place, each, depth + 1) for each in value]
    return value


def _read(place: str, entry: object, kind: type[T]) -> T:
    try:
        return convert(entry, kind)
    except ValidationError as error:
        raise FileError(f"import, {place}: {error}") from error


def _exercise(place: str, entry: object) -> Exercise:
    if not isinstance(entry, Mapping) or not isinstance(entry.get("data"), Mapping):
        raise FileError(f"import, {place}: found no exercise, expected an object with its data")
    try:
        return exercise_from_json(entry["data"])
    except InputError as error:
        raise FileError(f"import, {place}: {error}") from error


def _attempt(place: str, entry: object) -> AttemptEntry:
    read = _read(place, entry, AttemptEntry)
    try:
        read_report(read.report, f"import, {place}, report")
    except StoreBroken as error:
        raise FileError(str(error)) from error
    for name, moment in (("started_at", read.started_at), ("finished_at", read.finished_at)):
        _check_year(f"{place}, {name}", moment.year)
        as_utc(moment, name)
    _check_year(f"{place}, day", read.day.year)
    return read


def _lesson(place: str, entry: object) -> LessonEntry:
    read = _read(place, entry, LessonEntry)
    for name in ("started_at", "answered_at", "day"):
        moment: date | None = getattr(read, name)
        if moment is not None:
            _check_year(f"{place}, {name}", moment.year)
    return read


def _song(place: str, entry: object) -> SongEntry:
    read = _read(place, entry, SongEntry)
    _check_year(f"{place}, made_at", read.made_at.year)
    if read.deleted_at is not None:
        _check_year(f"{place}, deleted_at", read.deleted_at.year)
    for number, version in enumerate(read.versions):
        _check_year(f"{place}, versions[{number}], saved_at", version.saved_at.year)
    return read


def _song_set(place: str, entry: object) -> SetEntry:
    read = _read(place, entry, SetEntry)
    _check_year(f"{place}, made_at", read.made_at.year)
    return read


def _check_year(place: str, year: int) -> None:
    if not EARLIEST <= year <= LATEST:
        raise FileError(
            f"import, {place}: found the year {year}, expected one from {EARLIEST} to {LATEST}"
        )


def _newer_attempt(entry: object, version: int) -> object:
    """An attempt as version 3 has it.

    In version 1 a bar's chords were joined by "_"; until version 2 all was in the signs that the
    store had before revision 0007.
    """
    if version > 2 or not isinstance(entry, dict):
        return entry
    bars = entry.get("bar_results")
    if isinstance(bars, list):
        if version == 1:
            bars = [_newer_bar(bar) if isinstance(bar, dict) else bar for bar in bars]
        entry = entry | {"bar_results": [new_bar(bar) for bar in bars]}
    if isinstance(entry.get("answer_text"), str):
        entry = entry | {"answer_text": new_text(entry["answer_text"])}
    return entry | {"report": new_report(entry["report"])} if "report" in entry else entry


def _newer_draft(entry: object, version: int) -> object:
    """A draft as version 3 has it, in the signs of today."""
    if version > 2 or not isinstance(entry, dict) or not isinstance(entry.get("text"), str):
        return entry
    return entry | {"text": new_text(entry["text"])}


def _newer_bar(bar: dict[str, Any]) -> dict[str, Any]:
    newer = {name: value for name, value in bar.items() if name != "mixed"}
    newer["confusions"] = bar.get("mixed")
    for side in ("played", "written"):
        if isinstance(bar.get(side), str):
            newer[side] = bar[side].split("_") if bar[side] else []
    return newer
