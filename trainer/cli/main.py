"""`chart-trainer`: the commands, and what a failure of each kind exits with."""

from __future__ import annotations

import os
import sys
from typing import Annotated

import typer

from trainer import __version__
from trainer.cli import (
    bars,
    charts,
    drill,
    export,
    grade,
    lesson,
    pack,
    progress,
    record,
    serve,
    song_sets,
    song_use,
    songs,
    speed,
    today,
)
from trainer.cli.options import Data, Learner, SoundfontFile
from trainer.errors import InputError, SettingsError, TrainerError

__all__ = ["app", "main"]

MOST_PROBLEMS = 20

app = typer.Typer(
    name="chart-trainer",
    help="Learn to write number charts by ear: hear a song, write its chart, see what you missed.",
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command("drill")(drill.drill)
app.command("generate")(charts.generate)
app.command("render")(charts.render)
app.command("grade")(grade.grade_command)
app.command("chart")(charts.chart)
app.command("export")(export.export)
app.command("progress")(progress.progress)
app.command("today")(today.today)
app.command("more")(today.more)
app.command("bars")(bars.bars)
app.command("lesson")(lesson.lesson)
app.command("speed")(speed.speed)
app.command("serve")(serve.serve)
app.command("pack")(pack.pack)
app.add_typer(serve.app, name="accounts")
app.add_typer(record.app, name="record")
songs.app.command("play")(song_use.play)
songs.app.command("drill")(song_use.drill)
songs.app.command("compare")(song_use.compare)
songs.app.command("merge")(song_use.merge)
songs.app.command("set")(song_sets.song_set)
app.add_typer(songs.app, name="songs")


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"chart-trainer {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True)
def start(
    context: typer.Context,
    port: Annotated[
        int | None, typer.Option("--port", min=1, max=65535, help="Serve the page on this port.")
    ] = None,
    no_browser: Annotated[
        bool, typer.Option("--no-browser", help="Serve the page without opening a browser.")
    ] = False,
    learner: Learner = "me",
    data: Data = None,
    soundfont: SoundfontFile = None,
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_version, is_eager=True, help="Print the version and exit."
        ),
    ] = False,
) -> None:
    """Without a command: open the page in the browser."""
    del version
    if context.invoked_subcommand is not None:
        _refuse_misplaced(context)
        return
    from trainer.cli.page import start_page

    start_page(port=port, browser=not no_browser, data=data, learner=learner, soundfont=soundfont)


def _refuse_misplaced(context: typer.Context) -> None:
    """Options of the page before a command would do nothing, so they are refused."""
    for name in context.params:
        source = context.get_parameter_source(name)
        if source is not None and source.name == "COMMANDLINE":
            option = f"--{name.replace('_', '-')}"
            raise SettingsError(
                option,
                f"it before the command {context.invoked_subcommand}",
                f"it after the command, if the command takes it (see chart-trainer "
                f"{context.invoked_subcommand} --help), or no command",
            )


def _shortened(text: str) -> str:
    """The first lines of a long list of problems; it ends with how many more there are."""
    lines = text.splitlines()
    if len(lines) <= MOST_PROBLEMS:
        return text
    return "\n".join([*lines[:MOST_PROBLEMS], f"and {len(lines) - MOST_PROBLEMS} more"])


def main() -> None:
    """Run a command. Exit codes: 0 done, 2 the input was wrong, 1 anything else."""
    try:
        app()
    except InputError as error:
        typer.echo(f"chart-trainer: {_shortened(str(error))}", err=True)
        sys.exit(2)
    except TrainerError as error:
        typer.echo(f"chart-trainer: {error}", err=True)
        sys.exit(1)
    except BrokenPipeError:
        # The reader of our output left (as `head` does); say nothing more to it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(1)
