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
    """Test your speed: sixteen bars, one listen, no pause; the same test every time."""
    from trainer.cli.sitting import Room, sit
    from trainer.practice import speed_history, speed_test

    with Room.open(data, learner, soundfont, printing_json=as_json) as room:
        if not (show or as_json) and sit(room, speed_test(new_seed()), to) is None:
            return
        history = speed_history(room.store.ratings.speed(room.learner))
        if as_json:
            print_json(plain_speed(history))
        else:
            _print(room.console, history)


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


def _print(console: Console, history: SpeedHistory) -> None:
    if not history.results or history.best is None:
        console.print(
            "No result yet. A test counts with one listen, no pause, and the tempo as it is."
        )
        return
    last = history.results[-1]
    lag = "" if last.lag_beats is None else f", {last.lag_beats:.1f} beats behind"
    console.print(f"Kept up with {last.kept_up:.0%} of the bars{lag}.", style="bold")
    if history.is_best:
        console.print("Your best so far.")
    else:
        console.print(f"Your best: {history.best.kept_up:.0%}.")
    if history.percentile is not None:
        console.print(f"Better than {history.percentile:.0f} % of your earlier tests.")
