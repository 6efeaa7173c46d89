"""`speed`: the speed self-test, held against your own earlier ones."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.cli.choose import new_seed
from trainer.cli.files import print_json
from trainer.cli.options import Data, Json, Learner, SoundfontFile

if TYPE_CHECKING:
    from rich.console import Console

    from trainer.cli.sitting import Room
    from trainer.practice import SpeedHistory

__all__ = ["plain_speed", "speed"]


def speed(
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="Write the sound here (.wav, .flac) instead."),
    ] = None,
    show: Annotated[bool, typer.Option("--show", help="Show earlier results and leave.")] = False,
    as_json: Json = False,
) -> None:
    """Test your speed: sixteen bars, one listen, no pause; as hard each time, another song."""
    from trainer.cli.sitting import Room, sit
    from trainer.practice import speed_history, speed_test

    with Room.open(data, learner, soundfont, printing_json=as_json) as room:
        if not (show or as_json):
            if to is not None:
                room.console.print("With --to the band is not heard: it will not count as a test.")
            if sit(room, speed_test(new_seed()), to) is None:
                return
        history = speed_history(room.store.ratings.speed(room.learner))
        if as_json:
            print_json(plain_speed(history))
            return
        against = "" if show else _against(room, history, to)
        if against:
            room.console.print(f"This test does not count: {against}.", style="bold")
        _print(room.console, history, is_last=not against)


def _against(room: Room, history: SpeedHistory, to: Path | None) -> str:
    """Why the test that was just written does not count, "" if it does."""
    from trainer.practice import disqualification

    (test,) = room.store.attempts.history(room.learner, limit=1)
    if history.results and history.results[-1].at == test.finished_at:
        return ""
    if to is not None:
        return "it was not heard while you wrote, but written into a file"
    return disqualification(test.listens, test.paused, test.tempo_ratio, is_timed=False)


def plain_speed(history: SpeedHistory) -> dict[str, Any]:
    """The history of self-tests as JSON."""
    results = [
        asdict(result) | {"at": result.at.isoformat(timespec="seconds")}
        for result in history.results
    ]
    best = history.best
    return {
        "best": None if best is None else best.kept_up,
        "is_best": history.is_best,
        "percentile": history.percentile,
        "results": results,
    }


def _print(console: Console, history: SpeedHistory, *, is_last: bool) -> None:
    """Say the last result and where it stands; only the best where the last does not count."""
    from trainer.practice import describe_standing

    if not history.results or history.best is None:
        console.print(
            "No result yet. A test counts with one listen, no pause, and the tempo as it is."
        )
        return
    if is_last:
        last = history.results[-1]
        lag = "" if last.lag_beats is None else f", {last.lag_beats:.1f} beats behind"
        console.print(f"Kept up with {last.kept_up:.0%} of the bars{lag}.", style="bold")
        console.print(describe_standing(history))
    if not (is_last and history.is_best):
        console.print(f"Your best: {history.best.kept_up:.0%}.")
