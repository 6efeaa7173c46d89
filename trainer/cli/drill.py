"""`drill`: one exercise from the count-off to the advice."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from trainer.cli.choose import exercise_source, new_seed
from trainer.cli.options import Data, Learner, LevelNumber, RecipeName, Seed, SoundfontFile
from trainer.errors import SettingsError

__all__ = ["drill"]


def drill(
    level: LevelNumber = None,
    recipe: RecipeName = None,
    song: Annotated[
        str | None, typer.Option("--song", help="A hand-written song, by (part of) its title.")
    ] = None,
    seed: Seed = None,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="Write the sound here (.wav, .flac) instead."),
    ] = None,
    go_on: Annotated[
        bool, typer.Option("--continue", help="Go on with the drill that was left last.")
    ] = False,
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
) -> None:
    """Hear a song, write its chart line by line, see what you missed.

    Without an exercise named, choose one at a prompt.
    """
    if level is None and recipe is None and song is None and not go_on:
        from trainer.cli.welcome import welcome

        welcome(data, learner, soundfont, to)
        return
    if go_on and any(value is not None for value in (level, recipe, song, seed)):
        raise SettingsError("--continue", "another exercise named as well", "--continue alone")
    make = None if go_on else exercise_source(level, recipe, song)
    from trainer.cli.sitting import Room, sit

    with Room.open(data, learner, soundfont) as room:
        if make is not None:
            exercise = make(new_seed() if seed is None else seed)
        else:
            left = room.left_last()
            if left is None:
                raise SettingsError("--continue", "no drill that was left", "one to go on with")
            exercise = left
        sit(room, exercise, to)
