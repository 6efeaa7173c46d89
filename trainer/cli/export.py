"""`export`: a chart as a file for others."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from trainer.cli.files import read_chart

__all__ = ["export_command"]


def export_command(
    chart: Annotated[str, typer.Argument(help="A chart in text notation; - for standard input.")],
    out: Annotated[Path, typer.Option("-o", "--out", help="Where to: .mid or .txt.")],
    band: Annotated[str, typer.Option(help="work tape, small or full.")] = "full",
    seed: Annotated[int, typer.Option(help="Of the band's small liberties.", min=0)] = 0,
) -> None:
    """Write a chart as MIDI (the band's parts) or as canonical text."""
    from trainer.export import export_chart

    export_chart(read_chart(chart), out, band=band, seed=seed)
    typer.echo(f"wrote {out}")
