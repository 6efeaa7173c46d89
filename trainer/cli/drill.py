"""`drill`: one exercise from the count-off to the advice."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from trainer.cli.choose import exercise_source, new_seed
from trainer.cli.options import Data, Learner, LevelNumber, RecipeFile, Seed, SoundfontFile

__all__ = ["drill"]


def drill(
    level: LevelNumber = None,
    recipe: RecipeFile = None,
    song: Annotated[
        str | None, typer.Option("--song", help="A hand-written song, by (part of) its title.")
    ] = None,
    seed: Seed = None,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="Write the sound here (.wav, .flac) instead."),
    ] = None,
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
) -> None:
    """Hear a song, write its chart line by line, see what you missed."""
    from trainer.cli.sitting import Room, sit

    make = exercise_source(level, recipe, song)
    with Room.open(data, learner, soundfont) as room:
        sit(room, make(new_seed() if seed is None else seed), to)
