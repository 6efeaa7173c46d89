"""`pack`: an assignment of a class for a room without computers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from trainer.cli.common import print_json, progress_bar
from trainer.cli.options import Data, Json, SoundfontFile
from trainer.cli.serve import class_location

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.exercise import Exercise

__all__ = ["pack"]


def pack(
    assignment: Annotated[
        str, typer.Argument(help="The assignment: its title, or the id in the address of its page.")
    ],
    out: Annotated[Path, typer.Option("-o", "--out", metavar="FOLDER", help="The folder to make.")],
    sound: Annotated[
        Literal["flac", "wav"], typer.Option("--sound", help="What sounds are written as.")
    ] = "flac",
    paper: Annotated[str, typer.Option(help="Print sheets on a4 or letter.")] = "a4",
    data: Data = None,
    soundfont: SoundfontFile = None,
    as_json: Json = False,
) -> None:
    """Make a folder with an assignment's sounds, sheets to write on, and answer sheets (PDF)."""
    from trainer.classroom.packing import find_assignment, pack_of, write_pack
    from trainer.sound import HEARING_REMINDER
    from trainer.store import Store

    with Store.open(class_location(data)) as store:
        made = pack_of(store, find_assignment(store, assignment))
    files = write_pack(made, out, _writer(soundfont), suffix=f".{sound}", paper=paper)
    typer.echo(HEARING_REMINDER, err=True)
    if as_json:
        print_json({"folder": str(out), "files": list(files)})
        return
    for name in files:
        typer.echo(f"{out / name}")


def _writer(soundfont: Path | None) -> Callable[[Exercise, Path], None]:
    """What writes a song into a file."""
    from trainer.drill import play_song
    from trainer.sound import Synth, find_soundfont, write_audio

    synth = Synth(find_soundfont(soundfont))

    def write(exercise: Exercise, path: Path) -> None:
        rendering = synth.render(play_song(exercise))
        with progress_bar(f"rendering {path.name}", rendering.frames) as advance:
            write_audio(rendering, path, progress=advance)

    return write
