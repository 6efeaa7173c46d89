"""`progress`: what you can hear, what you tried and how it went."""

from __future__ import annotations

import csv
import sys
from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.cli.common import now, percent, print_json
from trainer.cli.options import Data, Json, Learner
from trainer.errors import InputError

if TYPE_CHECKING:
    from trainer.drill import LessonRecord
    from trainer.practice import SkillSummary
    from trainer.store import AttemptRecord, LevelBest, Store
    from trainer.store import Learner as LearnerRecord

__all__ = ["progress"]

COLUMNS = (
    "attempt",
    "finished_at",
    "level",
    "kind",
    "title",
    "score",
    "bars",
    "listens",
    "first_pass",
    "lag_beats",
    "seen",
    "passed",
    "level_id",
)


def progress(
    learner: Learner = "me",
    data: Data = None,
    limit: Annotated[int, typer.Option(min=1, help="How many attempts, newest first.")] = 20,
    as_json: Json = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV for a spreadsheet.")] = False,
) -> None:
    """Show how well you hear each skill, your attempts, and how far behind the band you write."""
    if as_json and as_csv:
        raise InputError("progress: found --json and --csv, expected one of them")
    from trainer.store import Store

    with Store.open(data) as store:
        who = store.learners.usual(learner)
        found = _found(store, who, limit) if who is not None else _nothing()
    if as_json:
        print_json({"learner": who.name if who is not None else learner, **found})
    elif as_csv:
        table = csv.DictWriter(sys.stdout, COLUMNS)
        table.writeheader()
        table.writerows(found["attempts"])
    else:
        _print(found)


def _nothing() -> dict[str, Any]:
    from trainer.cli.speed import plain_speed
    from trainer.practice import speed_history

    return {
        "attempts": [],
        "levels": [],
        "skills": [],
        "confusions": [],
        "days": [],
        "first_pass_rate": None,
        "lag_beats": None,
        "speed": plain_speed(speed_history(())),
        "lessons": [],
    }


def _found(store: Store, who: LearnerRecord, limit: int) -> dict[str, Any]:
    from trainer.cli.speed import plain_speed
    from trainer.drill import exercise_kinds, lesson_records, rating_state, totals
    from trainer.practice import describe_confusions, skill_summaries, speed_history

    confusions = store.progress.confusions(who)
    why = describe_confusions((each.played, each.written, each.chords) for each in confusions)
    days = store.progress.days(who)
    summed = totals(days)
    best = store.attempts.best_by_level(who)
    kinds = exercise_kinds(store, who)
    return {
        "attempts": [_row(attempt, kinds) for attempt in store.attempts.history(who, limit)],
        "levels": _levels(best),
        "skills": [_skill(line) for line in skill_summaries(rating_state(store, who), now(), why)],
        "confusions": [asdict(each) for each in confusions if each.is_wrong],
        "days": [asdict(day) | {"day": day.day.isoformat()} for day in days],
        "first_pass_rate": summed.first_pass,
        "lag_beats": summed.lag_beats,
        "speed": plain_speed(speed_history(store.ratings.speed(who))),
        "lessons": [_lesson(each) for each in lesson_records(store, who).values()],
    }


def _levels(best: Mapping[str, LevelBest]) -> list[dict[str, Any]]:
    """How the levels tried have gone, in the order of the course; a level that the course has no
    longer comes last and has no number."""
    from trainer.drill import level_of

    rows = []
    for level_id, each in best.items():
        level = level_of(level_id)
        row = {"level": None if level is None else level.number, "level_id": level_id}
        rows.append(row | {"best": each.score, "attempts": each.attempts, "passed": each.passed})
    return sorted(rows, key=lambda row: (row["level"] is None, row["level"]))


def _lesson(record: LessonRecord) -> dict[str, Any]:
    return asdict(record) | {"last_at": record.last_at.isoformat(timespec="seconds")}


def _skill(line: SkillSummary) -> dict[str, Any]:
    moments = {name: getattr(line, name).isoformat(timespec="seconds") for name in MOMENTS}
    return asdict(line) | moments


MOMENTS = ("due", "last_at")


def _row(attempt: AttemptRecord, kinds: Mapping[str, str]) -> dict[str, Any]:
    from trainer.drill import attempt_kind

    return {
        "attempt": attempt.id,
        "finished_at": attempt.finished_at.isoformat(timespec="seconds"),
        "level": attempt.level,
        "kind": attempt_kind(attempt, kinds),
        "title": attempt.title,
        "score": attempt.score,
        "bars": attempt.bars,
        "listens": attempt.listens,
        "first_pass": attempt.first_pass,
        "lag_beats": attempt.lag_beats,
        "seen": attempt.seen,
        "passed": attempt.passed,
        "level_id": attempt.level_id,
    }


def _print(found: dict[str, Any]) -> None:
    if not found["attempts"]:
        typer.echo("You haven't tried anything yet. Start with: chart-trainer today")
        return
    from rich.console import Console

    from trainer.practice import MOST_LAG_BEATS

    console = Console(highlight=False)
    console.print(
        _table(("skill", "right", "likely range", "bars", ""), map(_said, found["skills"]))
    )
    console.print()
    console.print(
        _table(
            ("when", "kind", "song", "score", "bars", "listens", "first pass"),
            map(_tried, found["attempts"]),
        )
    )
    rate, lag = found["first_pass_rate"], found["lag_beats"]
    console.print()
    console.print(f"You wrote {percent(rate)} of your attempts in one pass.")
    answered = sum(each["answered"] for each in found["lessons"])
    if answered:
        right = sum(each["right"] for each in found["lessons"])
        console.print(f"In lessons you got {right} of {answered} quick questions right.")
    # Whoever listens first and writes afterwards is always behind.
    if lag is not None and lag <= MOST_LAG_BEATS:
        console.print(f"You write {lag:.1f} beats behind the band.")


def _table(heads: tuple[str, ...], rows: Any) -> Any:
    from rich.table import Table

    table = Table(box=None)
    for name in heads:
        table.add_column(name)
    for row in rows:
        table.add_row(*row)
    return table


def _said(skill: dict[str, Any]) -> tuple[str, ...]:
    from trainer.practice import LEAST_BARS_FOR_RATE

    right = between = ""
    if skill["bars"] >= LEAST_BARS_FOR_RATE:
        right = percent(skill["right"])
        between = f"{percent(skill['low'])} to {percent(skill['high'])}"
    return skill["name"], right, between, str(skill["bars"]), skill["said"]


def _tried(row: dict[str, Any]) -> tuple[str, ...]:
    return (
        row["finished_at"][:16].replace("T", " "),
        row["kind"],
        row["title"],
        percent(row["score"]),
        str(row["bars"]),
        str(row["listens"]),
        "yes" if row["first_pass"] else "no",
    )
