"""A song as a file: the forms that print a sheet and that download another format."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Query
from fastapi.responses import Response

from trainer.chart import Key, parse
from trainer.errors import SettingsError
from trainer.export import (
    EXPORT_FORMATS,
    SHEET_FORMATS,
    Names,
    SheetSettings,
    Writing,
    chart_as_file,
)
from trainer.songbook import UNTITLED, in_key, read_song, title_of
from trainer.web.context import Context
from trainer.web.downloads import download_file, show_file
from trainer.web.numbers import MOST_NUMBER

__all__ = ["Printed", "offered_formats", "router"]

router = APIRouter()
# What the formats are called in the list, and the type that each is sent with.
FORMAT_NAMES = {
    ".txt": ("Text you can read and edit", "text/plain; charset=utf-8"),
    ".pdf": ("Sheet, PDF", "application/pdf"),
    ".png": ("Sheet, picture", "image/png"),
    ".svg": ("Sheet, drawing", "image/svg+xml"),
    ".musicxml": ("MusicXML for notation programs", "application/vnd.recordare.musicxml+xml"),
    ".mxl": ("MusicXML, compressed", "application/vnd.recordare.musicxml"),
    ".mid": ("MIDI of the band", "audio/midi"),
    ".cho": ("ChordPro for songbook apps", "text/plain; charset=utf-8"),
    ".lab": ("Chord labels with times, for research", "text/plain; charset=utf-8"),
}
OTHER_TYPE = "application/octet-stream"
# Whether chords are letters, where the format is no sheet.
LETTERS = {Names.NUMBERS: False, Names.LETTERS: True}


def offered_formats() -> list[tuple[str, str]]:
    """Suffix and name of every format, text first, sheets last; the PDF has a form of its own."""
    suffixes = sorted(
        (each for each in EXPORT_FORMATS if each != ".pdf"),
        key=lambda each: (each in SHEET_FORMATS, each != ".txt"),
    )
    return [(suffix, _format(suffix)[0]) for suffix in suffixes]


def _format(suffix: str) -> tuple[str, str]:
    return FORMAT_NAMES.get(suffix, (suffix.removeprefix(".").upper(), OTHER_TYPE))


def _printed(
    names: Annotated[str, Query(max_length=10)] = "",
    paper: Annotated[str, Query(max_length=10)] = "a4",
    columns: Annotated[str, Query(max_length=2)] = "",
    large: bool = False,
) -> SheetSettings:
    """How a sheet is printed, as the forms ask for it; no columns are as many as fit."""
    if names not in ("", *Names):
        raise SettingsError("chords", repr(names), ", ".join(Names))
    if columns not in ("", "1", "2"):
        raise SettingsError("columns", repr(columns), "1 or 2")
    chosen = int(columns) if columns else None
    return SheetSettings(paper, chosen, is_large=large, names=Names(names or Names.NUMBERS))


Printed = Annotated[SheetSettings, Depends(_printed)]


@router.get("/songbook/{uid}/file")
def file(
    context: Context,
    printed: Printed,
    uid: str,
    suffix: Annotated[str, Query(alias="format", max_length=20)] = ".txt",
    key: Annotated[str, Query(max_length=20)] = "",
    names: Annotated[str, Query(max_length=10)] = "",
    band: Annotated[str, Query(max_length=20)] = "full",
    version: Annotated[int | None, Query(ge=1, le=MOST_NUMBER)] = None,
    draft: bool = False,
    show: bool = False,
) -> Response:
    """A song as a file; text in its own key is the text as it was typed.

    `names` are "numbers", "letters", "both" or "blank" on a sheet, or "" for what is usual in the
    format. The song is as it was last saved, in an earlier `version`, or with `draft` as its writer
    has it now. With `show` the browser shows a sheet itself.
    """
    book = context.songbook
    text = book.draft_of(uid) if draft else book.text_of(uid, version)
    title = title_of(text, read_song(text).chart) or UNTITLED
    name, media_type = f"{title}{suffix.lower()}", _format(suffix.lower())[1]
    is_sheet = suffix.lower() in SHEET_FORMATS
    send = show_file if show and is_sheet else download_file
    if suffix == ".txt" and not key and not names:
        return send(text.encode(), name, media_type)
    chart = in_key(parse(text, source=title), Key.parse(key) if key else None)
    letters = None
    if names and not is_sheet:
        if printed.names not in LETTERS:
            raise SettingsError("chords", names, "numbers or letters; the others are for a sheet")
        # MIDI names no chords, so it is the same file whatever they are called.
        letters = None if suffix.lower() == ".mid" else LETTERS[printed.names]
    writing = Writing(letters=letters, band=band, sheet=printed)
    return send(chart_as_file(chart, suffix, writing), name, media_type)
