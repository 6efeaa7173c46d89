"""Options that several commands share, so that one word means one thing everywhere."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = [
    "Band",
    "Data",
    "Json",
    "Learner",
    "LevelNumber",
    "RecipeFile",
    "Seed",
    "SoundTo",
    "SoundfontFile",
]

Band = Annotated[str, typer.Option(help="Who plays: work tape, small or full.")]
Data = Annotated[
    Path | None,
    typer.Option("--data", metavar="FOLDER", help="Keep the learner's record here instead."),
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON.")]
Learner = Annotated[str, typer.Option(help="Whose record it is.")]
LevelNumber = Annotated[int | None, typer.Option("--level", help="A level of the course.")]
RecipeFile = Annotated[
    Path | None, typer.Option("--recipe", metavar="FILE", help="A recipe of your own (TOML).")
]
Seed = Annotated[
    int | None, typer.Option("--seed", min=0, help="The same seed gives the same song.")
]
SoundfontFile = Annotated[
    Path | None, typer.Option("--soundfont", metavar="FILE", help="A soundfont to play with.")
]
SoundTo = Annotated[
    Path | None,
    typer.Option("--to", metavar="FILE", help="Write the sound here (.wav, .flac) instead."),
]
