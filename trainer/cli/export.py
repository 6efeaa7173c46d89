"""`export`: charts as sheets and as files for other programs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from trainer.chart import Chart, Key, called_in
from trainer.cli.common import read_chart
from trainer.cli.options import (
    Band,
    BandSeed,
    Blank,
    Both,
    Columns,
    Large,
    Letters,
    OutFile,
    Paper,
)
from trainer.errors import SettingsError

if TYPE_CHECKING:
    from trainer.export import SheetSettings, Writing

__all__ = ["Asked", "export", "write_charts"]


@dataclass(frozen=True, slots=True)
class Asked:
    """How a file is to be written, as the options say it; each field is the option of that name."""

    letters: bool | None = None
    both: bool = False
    blank: bool = False
    paper: str | None = None
    columns: int | None = None
    large: bool = False

    def writing(self, out: Path, band: str = "full", seed: int = 0) -> Writing:
        """The same for the room that writes. Raises SettingsError for options that exclude each
        other or don't fit the file."""
        from trainer.export import Writing

        of_sheets = {
            "--both": self.both,
            "--blank": self.blank,
            "--paper": self.paper,
            "--columns": self.columns,
            "--large": self.large,
        }
        _refuse_without_sheet(out, [option for option, value in of_sheets.items() if value])
        named = [option for option, is_said in (
            ("--letters", self.letters is True), ("--numbers", self.letters is False),
            ("--both", self.both), ("--blank", self.blank),
        ) if is_said]  # fmt: skip
        if len(named) > 1:
            raise SettingsError(named[-1], f"it with {named[0]}", "one of them")
        return Writing(self.letters, band, seed, sheet=self._sheet())

    def _sheet(self) -> SheetSettings:
        from trainer.export import Names, SheetSettings

        names = Names.BOTH if self.both else Names.BLANK if self.blank else Names.NUMBERS
        return SheetSettings(self.paper or "a4", self.columns, self.large, names)


def export(
    charts: Annotated[
        list[str],
        typer.Argument(
            help="A chart, or several for one PDF with a list in front; - for standard input."
        ),
    ],
    out: OutFile,
    letters: Letters = None,
    both: Both = False,
    blank: Blank = False,
    key: Annotated[
        list[str] | None,
        typer.Option(help="Write the song in this key; once for all songs or once for each."),
    ] = None,
    paper: Paper = None,
    columns: Columns = None,
    large: Large = False,
    title: Annotated[str | None, typer.Option(help="The title over a list of songs.")] = None,
    band: Band = "full",
    seed: BandSeed = 0,
) -> None:
    """Write a chart for other programs and people; the file's ending says in which format.

    A sheet (.pdf, .png, .svg) is what you hand out. MusicXML (.musicxml, .mxl) is slash notation
    under the chords, MIDI (.mid) the band's parts, and ChordPro (.cho) text. Label files (.lab)
    have every chord of the band with its start and end in seconds.
    """
    asked = Asked(letters, both, blank, paper, columns, large)
    writing = asked.writing(out, band, seed)
    if title is not None and len(charts) == 1:
        raise SettingsError("--title", "it for one chart", "it for several charts")
    songs = _in_keys([read_chart(chart) for chart in charts], key or [])
    write_charts(songs, out, writing, None if len(songs) == 1 else title or "Set")


def write_charts(
    songs: Sequence[Chart], out: Path, writing: Writing, set_title: str | None = None
) -> None:
    """Write a chart into a file and say so, or with `set_title` all of them as one PDF with a list
    in front; characters that no font has are told on standard error."""
    from trainer.export import SHEET_FORMATS, export_chart, export_set, unprintable_note

    if out.suffix.lower() in SHEET_FORMATS and (note := unprintable_note(songs)):
        typer.echo(note, err=True)
    if set_title is None:
        export_chart(songs[0], out, writing)
    else:
        export_set(songs, out, writing, set_title)
    typer.echo(f"wrote {out}")


def _refuse_without_sheet(out: Path, options: Sequence[str]) -> None:
    """Raise SettingsError for options of a sheet if another kind of file is written."""
    from trainer.export import SHEET_FORMATS

    if options and out.suffix.lower() not in SHEET_FORMATS:
        expected = f"a sheet ({', '.join(SHEET_FORMATS)})"
        raise SettingsError(options[0], f"it for {out.name}", expected)


def _in_keys(songs: list[Chart], keys: Sequence[str]) -> list[Chart]:
    """The songs in their keys, where any are given. Raises SettingsError for another number."""
    if not keys:
        return songs
    if len(keys) not in (1, len(songs)):
        raise SettingsError("--key", f"{len(keys)} keys", f"one, or one for each of {len(songs)}")
    parsed = [Key.parse(key) for key in keys] * (len(songs) if len(keys) == 1 else 1)
    return [
        # A song on a minor 1 stays one where only the letter of its key is given.
        called_in(song, replace(key, minor=key.minor or song.key.minor))
        for song, key in zip(songs, parsed, strict=True)
    ]
