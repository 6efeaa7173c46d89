"""Options that several commands share, so that one word means one thing everywhere."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

__all__ = [
    "Band",
    "BandSeed",
    "Blank",
    "Both",
    "Columns",
    "Data",
    "Json",
    "Large",
    "Learner",
    "Letters",
    "LevelNumber",
    "OutFile",
    "Paper",
    "RecipeName",
    "Seed",
    "SoundTo",
    "SoundfontFile",
]


def _location(text: str) -> Path | str:
    """Where the record is: a database's URL, or a folder."""
    return text if "://" in text else Path(text)


def _seed(text: str) -> int:
    """The seed given on the command line. Raises SettingsError."""
    from trainer.exercise import parse_seed

    return parse_seed(text, "--seed")


Band = Annotated[str, typer.Option(help="Who plays: work tape, small or full.")]
BandSeed = Annotated[
    int, typer.Option("--seed", help="The seed for the band's small variations.", min=0)
]
Blank = Annotated[
    bool, typer.Option("--blank", help="Print lines to write on in place of the chords of a sheet.")
]
Both = Annotated[bool, typer.Option("--both", help="Print letters under the numbers of a sheet.")]
Columns = Annotated[int | None, typer.Option(help="Print a sheet in 1 or 2 columns.", min=1, max=2)]
Data = Annotated[
    Any,
    typer.Option(
        "--data",
        "--database",
        metavar="FOLDER|URL",
        parser=_location,
        envvar="CHART_TRAINER_DATA",
        help="Keep the learner's record in this folder, or in the database at this URL.",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print JSON.")]
Large = Annotated[bool, typer.Option("--large", help="Print a sheet large.")]
Learner = Annotated[str, typer.Option(help="The learner's name.")]
Letters = Annotated[
    bool | None,
    typer.Option(
        "--letters/--numbers",
        help="Name chords by letters or by numbers. [default: what is usual in the format]",
        show_default=False,
    ),
]
LevelNumber = Annotated[int | None, typer.Option("--level", help="A level of the course.")]
OutFile = Annotated[
    Path,
    typer.Option(
        "-o",
        "--out",
        help="The file to write: .pdf, .png, .svg, .musicxml, .mxl, .mid, .txt, .cho or .lab.",
    ),
]
Paper = Annotated[str | None, typer.Option(help="Print a sheet on a4 or letter.")]
RecipeName = Annotated[
    str | None,
    typer.Option(
        "--recipe",
        metavar="NAME|FILE",
        help="A recipe by its name, such as everyday, or a file of your own (TOML).",
    ),
]
Seed = Annotated[
    int | None,
    typer.Option(
        "--seed", metavar="NUMBER", parser=_seed, help="The same seed gives the same song."
    ),
]
SoundfontFile = Annotated[
    Path | None, typer.Option("--soundfont", metavar="FILE", help="The soundfont to play with.")
]
SoundTo = Annotated[
    Path | None,
    typer.Option(
        "--to", metavar="FILE", help="Write the sound to this file (.wav, .flac) instead."
    ),
]
