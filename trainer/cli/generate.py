"""`generate`: exercises on paper, for a teacher or another program."""

from __future__ import annotations

from typing import Annotated

import typer

from trainer.cli.choose import exercise_source, new_seed
from trainer.cli.files import print_json
from trainer.cli.options import Json, LevelNumber, RecipeName, Seed

__all__ = ["generate_command"]


def generate_command(
    level: LevelNumber = None,
    recipe: RecipeName = None,
    seed: Seed = None,
    count: Annotated[
        int, typer.Option(min=1, help="How many, from seeds that follow each other.")
    ] = 1,
    as_json: Json = False,
) -> None:
    """Invent exercises: charts on the terminal, or one JSON object a line with --json."""
    from trainer.chart import format_chart
    from trainer.exercise import exercise_to_json

    make = exercise_source(level, recipe, songs=False)
    first = new_seed() if seed is None else seed
    for number in range(first, first + count):
        exercise = make(number)
        if as_json:
            print_json(exercise_to_json(exercise))
        else:
            typer.echo(f"--- seed {number}\n{format_chart(exercise.chart)}")
