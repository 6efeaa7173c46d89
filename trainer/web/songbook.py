"""The songbook's list: search, tags, new songs, files in and out, sets, and what was deleted."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import zip_longest
from pathlib import PurePosixPath
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, UploadFile
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from trainer.errors import FileError, InputError
from trainer.export import Unsaid, unprintable_note, write_set
from trainer.songbook import (
    IMPORT_SUFFIXES,
    MOST_ARCHIVE_BYTES,
    ImportedFile,
    ImportReport,
    Sets,
    Songbook,
    import_archive,
    import_file,
    keys_of,
    read_song,
    write_archive,
)
from trainer.store import SetSong, SongPage
from trainer.web.context import Context, LearnerContext
from trainer.web.downloads import download_file, show_file
from trainer.web.song_files import Printed

__all__ = ["router"]

router = APIRouter(prefix="/songbook")
SEE_OTHER = 303
PAGE_SONGS = 50
MOST_PAGES = 10_000
# The first lines of a new song, to be filled in.
BLANK = "title: \nkey: C\nmeter: 4/4\ntempo: 100\n\nVerse 1:\n"


@dataclass(frozen=True, slots=True)
class ListView:
    """What the list shows: the songs found, the search, and which page of how many it is."""

    songs: SongPage
    words: str
    tag: str
    page: int

    @property
    def pages(self) -> int:
        """How many pages there are, at least one."""
        return max(1, -(-self.songs.found // PAGE_SONGS))


@router.get("")
def songbook(
    context: Context,
    q: Annotated[str, Query(max_length=200)] = "",
    tag: Annotated[str, Query(max_length=80)] = "",
    page: Annotated[int, Query(ge=1, le=MOST_PAGES)] = 1,
    deleted: Annotated[str, Query(max_length=60)] = "",
) -> HTMLResponse:
    """The songs that can be read here; `deleted` is the one that was just deleted."""
    found = context.songbook.find(q, tag or None, limit=PAGE_SONGS, offset=(page - 1) * PAGE_SONGS)
    return _list(context, ListView(found, q, tag, page), deleted=deleted)


def _list(
    context: LearnerContext,
    view: ListView,
    *,
    deleted: str = "",
    report: ImportReport | None = None,
    report_name: str = "",
) -> HTMLResponse:
    """The list, with the song that was just deleted or what became of an import."""
    book, found = context.songbook, view.songs
    gone = book.deleted()
    return context.page(
        "songbook.html",
        {
            "view": view,
            "report": report,
            "report_name": report_name,
            "owned": frozenset(song.uid for song in found.songs if book.owns(song)),
            "tags": book.tags(),
            "sets": Sets(book).all(),
            "gone": gone,
            "undo": next((song for song in gone if song.uid == deleted), None),
            "keys": keys_of(None),
            "suffixes": ",".join((*IMPORT_SUFFIXES, ".zip")),
        },
    )


@router.post("/new")
def new(context: Context) -> Response:
    """Begin a new song."""
    return RedirectResponse(f"/songbook/{context.songbook.begin(BLANK).uid}", SEE_OTHER)


@router.post("/import")
def import_files(
    context: Context,
    file: UploadFile,
    key: Annotated[str, Form()] = "",
    meter: Annotated[str, Form()] = "",
) -> Response:
    """Add the song in a file, or all songs of an archive; the list says what could not be read.
    `key` and `meter` hold where a file says none, as label files do."""
    name = PurePosixPath((file.filename or "").replace("\\", "/")).name
    content = file.file.read(MOST_ARCHIVE_BYTES + 1)
    if not name and not content:
        raise FileError("import: found no file, expected a chart or an archive (.zip)")
    report = _imported(context.songbook, name, content, Unsaid.typed(key, meter))
    only = report.files[0].song if len(report.files) == 1 else None
    if only is not None and not report.files[0].problems:
        return RedirectResponse(f"/songbook/{only.uid}", SEE_OTHER)
    found = context.songbook.find(limit=PAGE_SONGS)
    return _list(context, ListView(found, "", "", 1), report=report, report_name=name)


def _imported(book: Songbook, name: str, content: bytes, unsaid: Unsaid) -> ImportReport:
    if name.lower().endswith(".zip"):
        return import_archive(book, content)
    try:
        return ImportReport((import_file(book, name, content, unsaid),))
    except InputError as error:
        return ImportReport((ImportedFile(name, None, (str(error),)),))


@router.get("/archive")
def archive(context: Context) -> Response:
    """All of the learner's own songs and sets in one archive."""
    book = context.songbook
    songs = [song for song in context.store.songs.all(book.learner) if song.deleted_at is None]
    sets = Sets(book).all()
    name = f"songbook-{context.today.isoformat()}.zip"
    return download_file(write_archive(songs, sets=sets), name, "application/zip")


@router.post("/sets/new")
def new_set(context: Context, name: Annotated[str, Form()] = "") -> Response:
    """Make a set."""
    made = Sets(context.songbook).add(name)
    return RedirectResponse(f"/songbook/sets/{made.uid}", SEE_OTHER)


@router.get("/sets/{uid}")
def one_set(
    context: Context, uid: str, q: Annotated[str, Query(max_length=200)] = ""
) -> HTMLResponse:
    """The songs of a set in order, and songs to add."""
    sets = Sets(context.songbook)
    found = sets.get(uid)
    songs = sets.songs(found)
    charts = [
        read_song(each.song.version.text).chart if each.song is not None else None for each in songs
    ]
    keys = [
        keys_of(chart) if each.song is not None else ()
        for each, chart in zip(songs, charts, strict=True)
    ]
    offered = context.songbook.find(q, limit=PAGE_SONGS)
    values: dict[str, Any] = {
        "set": found,
        "songs": list(zip(songs, keys, strict=True)),
        "closed": frozenset(
            each.uid
            for each in songs
            if each.song is not None and not context.songbook.is_open(each.song)
        ),
        "offered": offered,
        "words": q,
        "unprintable": unprintable_note(each for each in charts if each is not None),
    }
    return context.page("songbook_set.html", values)


@router.get("/sets/{uid}/pdf")
def print_set(
    context: Context,
    printed: Printed,
    uid: str,
) -> Response:
    """A set as one PDF for the browser to show, each song in the band's key, with a list in
    front."""
    sets = Sets(context.songbook)
    found = sets.get(uid)
    content = write_set(sets.charts(found), printed, found.name)
    return show_file(content, f"{found.name}.pdf", "application/pdf")


@router.post("/sets/{uid}")
def change_set(
    context: Context,
    uid: str,
    name: Annotated[str, Form()] = "",
    song: Annotated[list[str] | None, Form()] = None,
    key: Annotated[list[str] | None, Form()] = None,
    do: Annotated[str, Form()] = "",
) -> Response:
    """Change a set: its name and keys, and by `do` the place of one song ("up 2", "down 1",
    "remove 3", counted from 0), or "open 1" to show a closed chart."""
    # A song without a key of its own is kept, to be played as it is written.
    keys = (key or [])[: len(song or ())]
    songs = [
        SetSong(each, chosen or None)
        for each, chosen in zip_longest(song or (), keys, fillvalue="")
    ]
    Sets(context.songbook).change(uid, name, _moved(songs, do))
    what, _, number = do.partition(" ")
    if what == "open" and number.isdecimal() and int(number) < len(songs):
        context.songbook.open(songs[int(number)].song)
    return RedirectResponse(f"/songbook/sets/{uid}", SEE_OTHER)


def _moved(songs: list[SetSong], do: str) -> list[SetSong]:
    what, _, number = do.partition(" ")
    if what == "open" or not number.isdecimal() or int(number) >= len(songs):
        return songs
    place = int(number)
    song = songs.pop(place)
    if what == "remove":
        return songs
    songs.insert(max(0, place + (-1 if what == "up" else 1)), song)
    return songs


@router.post("/sets/{uid}/add")
def add_to_set(context: Context, uid: str, song: Annotated[str, Form()] = "") -> Response:
    """Put a song at the end of a set."""
    Sets(context.songbook).append(uid, song)
    return RedirectResponse(f"/songbook/sets/{uid}", SEE_OTHER)


@router.post("/sets/{uid}/delete")
def delete_set(context: Context, uid: str) -> Response:
    """Remove a set; its songs stay."""
    Sets(context.songbook).delete(uid)
    return RedirectResponse("/songbook", SEE_OTHER)
