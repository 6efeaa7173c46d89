"""`songs set`: sets of songs in the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from trainer.cli.common import print_json
from trainer.cli.export import Asked, write_charts
from trainer.cli.options import (
    Blank,
    Both,
    Columns,
    Data,
    Json,
    Large,
    Learner,
    Letters,
    Paper,
)
from trainer.cli.songs import find_song, songbook
from trainer.errors import SettingsError, SongNotFound

if TYPE_CHECKING:
    from trainer.songbook import Sets
    from trainer.store import SongSet

__all__ = ["song_set"]


def song_set(
    name: Annotated[str | None, typer.Argument(help="A set's name; all sets if none.")] = None,
    songs: Annotated[
        list[str] | None,
        typer.Argument(help="Its songs in order; SONG=KEY gives the band's key."),
    ] = None,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FILE", help="Print the set into this file (.pdf)."),
    ] = None,
    letters: Letters = None,
    both: Both = False,
    blank: Blank = False,
    paper: Paper = None,
    columns: Columns = None,
    large: Large = False,
    remove: Annotated[bool, typer.Option("--remove", help="Remove the set.")] = False,
    learner: Learner = "me",
    data: Data = None,
    as_json: Json = False,
) -> None:
    """Show your sets, put songs into one in this order, or print one with a list in front."""
    from trainer.songbook import UNTITLED, Sets
    from trainer.store import SetSong

    asked = Asked(letters, both, blank, paper, columns, large)
    if to is None and asked != Asked():
        raise SettingsError("songs set", "options of a sheet", "them with --to FILE")
    with songbook(learner, data) as book:
        sets = Sets(book)
        known = next((each for each in sets.all() if each.name == name), None)
        if name is not None and remove:
            if known is None:
                raise SongNotFound(f"songs set: found no set {name!r}")
            sets.delete(known.uid)
        elif name is not None and songs:
            chosen = [
                SetSong(find_song(book, title).uid, key or None)
                for title, _, key in (each.partition("=") for each in songs)
            ]
            if known is None:
                sets.add(name, chosen)
            else:
                sets.change(known.uid, name, chosen)
        if to is not None:
            _print_set(sets, name, to, asked)
        shown = [_set_to_json(sets, each) for each in sets.all() if name in (None, each.name)]
        if name is not None and not shown and not remove:
            raise SongNotFound(f"songs set: found no set {name!r}; `songs set` shows all")
    if as_json:
        print_json({"sets": shown})
        return
    for each in shown:
        typer.echo(each["name"])
        for number, song in enumerate(each["songs"], 1):
            title = "A song that is gone" if song["title"] is None else song["title"] or UNTITLED
            typer.echo(f"{number:4}  {title}  ({song['key'] or 'as written'})")


def _print_set(sets: Sets, name: str | None, to: Path, asked: Asked) -> None:
    """Write a set into a PDF, each song in the band's key."""
    found = next((each for each in sets.all() if each.name == name), None)
    if found is None:
        raise SongNotFound(f"songs set: found no set {name!r} to print")
    write_charts(sets.charts(found), to, asked.writing(to), found.name)


def _set_to_json(sets: Sets, song_set: SongSet) -> dict[str, Any]:
    songs = [
        {
            "id": each.uid,
            "title": each.song.version.title if each.song is not None else None,
            "key": each.key,
        }
        for each in sets.songs(song_set)
    ]
    return {"id": song_set.uid, "name": song_set.name, "songs": songs}
