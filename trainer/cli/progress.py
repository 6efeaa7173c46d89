"""`progress`: what was tried and how it went."""

from __future__ import annotations

import csv
import sys
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.cli.files import print_json
from trainer.cli.options import Data, Json, Learner
from trainer.errors import InputError

if TYPE_CHECKING:
    from trainer.store import AttemptRecord

__all__ = ["progress"]

COLUMNS = (
    "attempt",
    "finished_at",
    "level",
    "title",
    "score",
    "bars",
    "listens",
    "first_pass",
    "lag_beats",
)


def progress(
    learner: Learner = "me",
    data: Data = None,
    limit: Annotated[int, typer.Option(min=1, help="How many attempts, newest first.")] = 20,
    as_json: Json = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV for a spreadsheet.")] = False,
) -> None:
    """Show your attempts, newest first, and the best of each level."""
    if as_json and as_csv:
        raise InputError("progress: found --json and --csv, expected one of them")
    from trainer.store import Store

    with Store.open(data) as store:
        who = store.learners.get(learner)
        history = store.attempts.history(who, limit) if who is not None else ()
        best = store.attempts.best_by_level(who) if who is not None else {}
    rows = [_row(attempt) for attempt in history]
    if as_json:
        print_json(
            {
                "learner": learner,
                "attempts": rows,
                "levels": [
                    {"level": level, "best": each.score, "attempts": each.attempts}
                    for level, each in best.items()
                ],
            }
        )
    elif as_csv:
        table = csv.DictWriter(sys.stdout, COLUMNS)
        table.writeheader()
        table.writerows(rows)
    else:
        _print(rows)


def _row(attempt: AttemptRecord) -> dict[str, Any]:
    return {
        "attempt": attempt.id,
        "finished_at": attempt.finished_at.isoformat(timespec="seconds"),
        "level": attempt.level,
        "title": attempt.title,
        "score": attempt.score,
        "bars": attempt.bars,
        "listens": attempt.listens,
        "first_pass": attempt.first_pass,
        "lag_beats": attempt.lag_beats,
    }


def _print(rows: list[dict[str, Any]]) -> None:
    if not rows:
        typer.echo("Nothing yet. Start with: chart-trainer drill --level 1")
        return
    from rich.console import Console
    from rich.table import Table

    table = Table(box=None)
    for name in ("when", "level", "song", "score", "bars", "listens", "first pass"):
        table.add_column(name)
    for row in rows:
        table.add_row(
            row["finished_at"][:16].replace("T", " "),
            str(row["level"] or "song"),
            row["title"],
            f"{row['score']:.0%}",
            str(row["bars"]),
            str(row["listens"]),
            "yes" if row["first_pass"] else "no",
        )
    Console().print(table)
