"""`speed`: the speed self-test, compared with your own earlier ones."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.cli.common import percent, print_json
from trainer.cli.options import Data, Json, Learner, SoundfontFile, SoundTo

if TYPE_CHECKING:
    from rich.console import Console

    from trainer.practice import SpeedHistory
    from trainer.store import AttemptRecord

__all__ = ["plain_speed", "speed"]


def speed(
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
    to: SoundTo = None,
    show: Annotated[bool, typer.Option("--show", help="Show earlier results and exit.")] = False,
    as_json: Json = False,
) -> None:
    """Test your speed: sixteen bars, one listen, no pause. Each test is another song, as hard."""
    from trainer.cli.session import Session
    from trainer.exercise import new_seed
    from trainer.practice import speed_history, speed_test

    with Session.open(data, learner, soundfont, printing_json=as_json) as session:
        against = ""
        if not (show or as_json):
            if to is not None:
                session.console.print(
                    "With --to you don't hear the band as you write, so this won't count as a test."
                )
            submitted = session.run(session.drills.begin(speed_test(new_seed())), to)
            if submitted is None:
                return
            against = _why_no_test(submitted.attempt, to)
        history = speed_history(session.store.ratings.speed(session.learner))
        if as_json:
            print_json(plain_speed(history))
            return
        if against:
            session.console.print(f"This test doesn't count: {against}.", style="bold")
        _print(session.console, history, is_last=not against)


def _why_no_test(test: AttemptRecord, to: Path | None) -> str:
    """Why the test that was just written does not count, "" if it does."""
    from trainer.drill import why_no_speed_test

    if to is not None and test.lag_beats is None:
        return "the song went to a file, so you didn't hear it as you wrote"
    return why_no_speed_test(test)


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
            "No results yet. A test counts with one listen, no pauses and the tempo unchanged."
        )
        return
    if is_last:
        last = history.results[-1]
        lag = "" if last.lag_beats is None else f", {last.lag_beats:.1f} beats behind"
        console.print(f"You kept up with {percent(last.kept_up)} of the bars{lag}.", style="bold")
        console.print(describe_standing(history))
    if not (is_last and history.is_best):
        console.print(f"Your best: {percent(history.best.kept_up)}.")
