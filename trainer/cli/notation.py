"""`chart`: a text as the trainer reads it."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated

import typer

from trainer.chart import Key, chart_to_json, format_chart, format_letters
from trainer.cli.files import print_json, read_chart

__all__ = ["chart"]


def chart(
    file: Annotated[str, typer.Argument(help="A chart in text notation; - for standard input.")],
    in_key: Annotated[
        str | None, typer.Option("--in", metavar="KEY", help="Letter names in this key.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the chart as JSON.")] = False,
) -> None:
    """Check a chart and print its canonical text, or its letter names in a key."""
    song = read_chart(file)
    if as_json:
        print_json(chart_to_json(song))
    elif in_key is not None:
        typer.echo(format_letters(replace(song, key=Key.parse(in_key))), nl=False)
    else:
        typer.echo(format_chart(song), nl=False)
