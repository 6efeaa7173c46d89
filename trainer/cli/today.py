"""`today`: the daily set, from finding the level on the first day to one more set."""

from __future__ import annotations

import random
import secrets
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.cli.files import print_json
from trainer.cli.options import Data, Json, Learner, SoundfontFile

if TYPE_CHECKING:
    from trainer.cli.sitting import Room
    from trainer.store import Given, SetItem, Today

__all__ = ["today"]

PROMPT = "Enter to begin, skip, or stop  "
PLACING = "Enter to begin, skip, all to skip finding the level, or stop  "


def today(
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="Write the sound here (.wav, .flac) instead."),
    ] = None,
    another: Annotated[
        bool, typer.Option("--another", help="A further set, when today's is done.")
    ] = False,
    show: Annotated[bool, typer.Option("--show", help="Show the set and leave.")] = False,
    as_json: Json = False,
) -> None:
    """Practise about ten minutes: what is due, what is weak, what is new, each with its reason.

    The first time, a few short exercises find your level. Stop when you like: the rest waits.
    """
    from trainer.cli.sitting import Room
    from trainer.exercise import load_course
    from trainer.store import Today

    with Room.open(data, learner, soundfont, printing_json=as_json) as room:
        rng = random.Random(secrets.randbits(64))
        day = Today(room.store, room.learner, load_course(), _local_day(), rng)
        if another:
            day.another(_now())
        if as_json:
            print_json(_plain(day.plan(_now())))
        elif show:
            _show(room, day.plan(_now()))
        else:
            _practise(room, day, to)


def _practise(room: Room, day: Today, to: Path | None) -> None:
    from trainer.cli.desk import read_line
    from trainer.cli.sitting import sit

    was_placing = False
    while (given := day.next(_now())) is not None:
        placing = given.item.kind == "placement"
        if was_placing and not placing:
            _say_found(room)
        was_placing = placing
        _introduce(room, given)
        line = read_line(PLACING if placing else PROMPT)
        word = "stop" if line is None else line.strip().lower()
        if word == "skip":
            day.skip(given.item, _now())
        elif word == "all" and placing:
            day.skip_placement(_now())
        elif word:
            room.console.print("The rest of the set waits for you: chart-trainer today")
            return
        elif sit(room, given.exercise, to) is None:
            return
    room.console.print("That is today's set. One more: chart-trainer today --another")


def _say_found(room: Room) -> None:
    from trainer.exercise import load_course
    from trainer.practice import describe_placement

    found = describe_placement(room.store.ratings.state(room.learner), load_course(), _now())
    if found:
        room.console.print(f"\nYour level is found. {found}", markup=False)


def _introduce(room: Room, given: Given) -> None:
    item = given.item
    room.console.print()
    minutes = f", about {item.minutes:.0f} min" if item.minutes and item.minutes >= 1 else ""
    room.console.print(
        f"{item.position} of {given.total}{minutes}: {item.reason}", style="bold", markup=False
    )


def _show(room: Room, items: tuple[SetItem, ...]) -> None:
    for item in items:
        room.console.print(f"{item.position:>2}  {item.status:<8} {item.reason}", markup=False)


def _plain(items: tuple[SetItem, ...]) -> dict[str, Any]:
    names = ("position", "kind", "skills", "reason", "status", "exercise_id", "expected", "minutes")
    return {
        "day": items[0].day.isoformat(),
        "set": items[0].number,
        "items": [{name: getattr(item, name) for name in names} for item in items],
    }


def _now() -> datetime:
    return datetime.now(UTC)


def _local_day() -> date:
    return _now().astimezone().date()
