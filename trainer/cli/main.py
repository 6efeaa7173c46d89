"""`chart-trainer`: the commands, and what a failure of each kind exits with."""

from __future__ import annotations

import os
import sys

import typer

from trainer import __version__
from trainer.cli import drill, export, generate, grade, notation, progress, render
from trainer.errors import InputError, TrainerError

__all__ = ["app", "main"]

app = typer.Typer(
    name="chart-trainer",
    help="Train the writing of number charts by ear: hear a song, write its chart, see what you "
    "missed.",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command("drill")(drill.drill)
app.command("generate")(generate.generate_command)
app.command("render")(render.render)
app.command("grade")(grade.grade_command)
app.command("chart")(notation.chart)
app.command("export")(export.export_command)
app.command("progress")(progress.progress)


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"chart-trainer {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def start(
    context: typer.Context,
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Print the version and leave."
    ),
) -> None:
    """Without a command: choose a level and drill."""
    del version
    if context.invoked_subcommand is None:
        from trainer.cli.welcome import welcome

        welcome()


def main() -> None:
    """Run a command. Exit codes: 0 done, 2 the input was wrong, 1 anything else."""
    try:
        app()
    except InputError as error:
        typer.echo(f"chart-trainer: {error}", err=True)
        sys.exit(2)
    except TrainerError as error:
        typer.echo(f"chart-trainer: {error}", err=True)
        sys.exit(1)
    except BrokenPipeError:
        # The reader of our output left (as `head` does); say nothing more to it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
